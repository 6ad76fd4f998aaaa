-- Carry by other coefficients of drag and lift, and the factor of strikes off the middle. Derived rows are written anew each night.

alter table comparable_shot add column carry_pooled_m DOUBLE;
alter table comparable_shot add column carry_bearman_harvey_m DOUBLE;

delete from transfer_month;
alter table transfer_month add column strike_factor DOUBLE;
alter table transfer_month add column strike_factor_error DOUBLE;
alter table transfer_month add column strike_factor_source VARCHAR;
alter table transfer_month add column strike_factor_n BIGINT;
alter table transfer_month add column carry_model_error_m DOUBLE;
alter table transfer_month add column carry_change_model_error_m DOUBLE;
alter table transfer_month add column carry_change_low_m DOUBLE;
alter table transfer_month add column carry_change_high_m DOUBLE;
alter table transfer_month alter column strike_factor set not null;
alter table transfer_month alter column strike_factor_error set not null;
alter table transfer_month alter column strike_factor_source set not null;
alter table transfer_month alter column strike_factor_n set not null;

alter table pattern_month add column carry_model_error_m DOUBLE;
