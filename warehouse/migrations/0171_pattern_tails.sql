-- Tails of the pattern of a month.

alter table pattern_month add column tail_share DOUBLE;
alter table pattern_month add column tail_share_error DOUBLE;
