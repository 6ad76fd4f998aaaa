-- grain: month_on, device_id, ball. One ball on one device against the reference ball, as known at the end of one month.
create or replace view mart_ball_factor as
select
  month_on,
  device_id,
  ball,
  factor,
  factor_source,
  n_shots,
  speed_factor,
  speed_factor_source,
  n_speed_shots,
  model_level,
  known_on
from ball_factor;
