-- grain: player_id, club_group, metric, session_id. What is known of one quantity after one session, as charts and sentences use it.
create or replace view mart_trend as
select
  player_id,
  club_group,
  metric,
  series,
  session_id,
  on_date,
  club,
  device_id,
  n,
  "value",
  "level",
  level_low,
  level_high,
  change_28,
  change_28_low,
  change_28_high,
  p_up,
  p_better,
  p_trivial,
  p_worse,
  worthwhile,
  odd,
  usual,
  usual_sd,
  usual_n,
  state
from trend_point
where metric in (
  'club_speed_mps', 'ball_speed_mps', 'speed_ratio', 'comparable_carry_m', 'scatter_side_m', 'scatter_long_m', 'wild_pct',
  'aim_deg'
) and (club_group = 'driver' or (club_group = 'iron' and metric = 'club_speed_mps'));
