-- grain: session_id, shot_no. A normal swing with its comparable carry, and its speed ratio with and without what the ball does to it.
-- The factor of a ball is that of its device and month; it is known when it rests on nothing later than that month.
create or replace view comparable_swing as
select
  normal_swing.session_id,
  normal_swing.shot_no,
  normal_swing.player_id,
  normal_swing.on_date,
  normal_swing.club,
  normal_swing.club_group,
  comparable_shot.method,
  comparable_shot.carry_m,
  comparable_shot.carry_pooled_m,
  comparable_shot.carry_bearman_harvey_m,
  comparable_shot.offline_m,
  comparable_shot.direction_deg,
  comparable_shot.run_m,
  normal_swing.club_speed_mps,
  normal_swing.ball_speed_mps / normal_swing.club_speed_mps as speed_ratio,
  normal_swing.ball_speed_mps / normal_swing.club_speed_mps / coalesce(session_factor.speed_factor, 1) as comparable_speed_ratio,
  coalesce(session_factor.known_on <= session_factor.month_on, false) as is_factor_known,
  normal_swing.device_id,
  normal_swing.launch_deg,
  normal_swing.spin_rpm,
  normal_swing.strike_side_mm,
  normal_swing.strike_height_mm
from normal_swing
join comparable_shot using (session_id, shot_no)
left join session_factor using (session_id);
