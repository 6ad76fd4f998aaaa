-- The middle carry of a month's pattern by the other sets of coefficients of drag and lift. Derived rows are written anew.

alter table pattern_month add column carry_pooled_m DOUBLE;
alter table pattern_month add column carry_bearman_harvey_m DOUBLE;
