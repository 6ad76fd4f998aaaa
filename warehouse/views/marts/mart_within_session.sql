-- grain: player_id. One player's drives within sessions, pooled over the last half year: cold start and tiring.
create or replace view mart_within_session as
select
  player_id,
  n_sessions,
  n_balls,
  n_early_balls,
  cold_pct,
  cold_low_pct,
  cold_high_pct,
  full_from_ball,
  tired_from_ball,
  n_late_balls,
  tired_pct,
  tired_low_pct,
  tired_high_pct
from within_session;
