-- grain: session_id. The factor of a session's ball, that of its device and month: what comparable_swing takes from ball_factor.
create or replace view session_factor as
select
  session_day.session_id,
  session_day.player_id,
  session_day.on_date,
  ball_factor.month_on,
  ball_factor.speed_factor,
  ball_factor.known_on
from session_day
join ball_factor
  on ball_factor.device_id is not distinct from session_day.device_id
  and ball_factor.ball is not distinct from session_day.ball
  and ball_factor.month_on = date_trunc('month', session_day.on_date);
