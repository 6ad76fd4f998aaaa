-- grain: player_id, week_starting. Load of a week.
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
  effort_min
from load_week;
