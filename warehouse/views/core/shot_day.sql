-- grain: session_id, shot_no. A shot with its session's local day, device, ball and surroundings, and its club's group.
create or replace view shot_day as
select
  shot.* exclude (counts),
  coalesce(shot.counts, true) as counts,
  club.club_group,
  session_day.on_date,
  session_day.kind as session_kind,
  session_day.device_id,
  session_day.ball,
  session_day.indoors,
  session_day.air_temp_c,
  session_day.air_pressure_hpa,
  session_day.humidity_pct,
  session_day.altitude_m,
  session_day.wind_mps,
  session_day.wind_from_deg
from shot
join session_day using (session_id)
left join club using (club);
