-- grain: session_id, player_id. Driver sessions of the normal swing in the 28 days up to the last day.
create or replace view recent_drive_session as
select
  normal_session.session_id,
  normal_session.player_id,
  normal_session.club_speed_mps_n,
  normal_session.offline_m_n,
  normal_session.offline_m_spread
from normal_session
cross join last_day
where normal_session.club_group = 'driver' and normal_session.on_date > last_day.on_date - 28;
