-- grain: device_id. What came from one device.
create or replace view mart_device as
with shots as (select session_id, count(*) as n_shots from shot group by session_id)
select
  session_day.device_id,
  min(session_day.on_date) as first_on,
  max(session_day.on_date) as last_on,
  count(*) as n_sessions,
  count(distinct session_day.player_id) as n_players,
  coalesce(cast(sum(shots.n_shots) as bigint), 0) as n_shots
from session_day
left join shots using (session_id)
where session_day.device_id is not null
group by session_day.device_id;
