-- Correlation of the errors of spread and tails of a month's pattern.

alter table pattern_month add column tail_correlation DOUBLE;
