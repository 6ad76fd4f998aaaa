-- grain: player_id, session_id, kind. What is marked of sessions with driver where the sessions themselves are not drawn: the first
-- on each device but the player's first (kind device), and odd ones (kind odd). Of two series the one that the player's page shows:
-- the main one, else the one with most sessions.
create or replace view mart_speed_mark as
with speed as (
  select player_id, series, session_id, on_date, device_id, odd
  from mart_trend
  where club_group = 'driver' and metric = 'club_speed_mps'
),
shown as (
  select player_id, series
  from speed
  group by player_id, series
  qualify row_number() over (partition by player_id order by series <> '', count(*) desc, series) = 1
),
marked as (
  select speed.*
  from speed
  join shown using (player_id, series)
),
used as (
  select player_id, device_id, min(session_id) as session_id, arg_min(on_date, session_id) as on_date
  from marked
  where device_id <> ''
  group by player_id, device_id
),
later as (
  select * from used
  qualify row_number() over (partition by player_id order by session_id) > 1
)
select player_id, session_id, 'device' as kind, on_date, device_id
from later
union all
select player_id, session_id, 'odd' as kind, on_date, null as device_id
from marked
where odd > 0.5;
