-- grain: player_id, began_on. One season phase of one player: planned and done, and the levels on either side of it.
create or replace view mart_phase as
select
  player_id,
  phase,
  began_on,
  ended_on,
  n_weeks,
  n_days,
  n_days_known,
  planned_full,
  planned_speed,
  planned_minutes,
  done_full,
  done_share,
  done_minutes,
  n_sessions,
  n_speed_sessions,
  speed_before_mps,
  speed_after_mps,
  speed_change_mps,
  speed_change_low_mps,
  speed_change_high_mps,
  scatter_change_m,
  scatter_change_low_m,
  scatter_change_high_m
from phase;
