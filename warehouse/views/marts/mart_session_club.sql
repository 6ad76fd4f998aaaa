-- grain: session_id, player_id, club_group. A session's summary with one group of clubs, as charts and tables show it.
create or replace view mart_session_club as
select
  player_id,
  session_id,
  club_group,
  on_date,
  session_kind,
  device_id,
  club,
  n_shots,
  n_mishits,
  mishit_rate,
  club_speed_mps_n as n_club_speed,
  club_speed_mps_centre as club_speed_mps,
  club_speed_mps_spread as club_speed_spread_mps,
  ball_speed_mps_centre as ball_speed_mps,
  speed_ratio_centre as speed_ratio,
  carry_m_centre as carry_m,
  carry_m_spread as depth_spread_m,
  offline_m_n as n_offline,
  offline_m_centre as offline_m,
  offline_m_spread as lateral_spread_m,
  launch_deg_centre as launch_deg,
  spin_rpm_centre as spin_rpm,
  attack_deg_centre as attack_deg
from session_club;
