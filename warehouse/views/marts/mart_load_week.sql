-- grain: player_id, week_starting. Load of a week, done and planned.
create or replace view mart_load_week as
select
  player_id,
  week_starting,
  n_days_known,
  n_rest_days,
  swings_full,
  swings_part,
  swings_dry,
  swings_all,
  swings_full_effort,
  holes,
  minutes,
  effort_min,
  planned_swings_full,
  planned_swings_speed,
  planned_minutes,
  done_share_swings_full,
  done_share_swings_full_effort,
  done_share_minutes
from load_week;
