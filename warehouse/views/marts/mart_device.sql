-- grain: device_id. What came from one device, and whether it can be compared with others.
create or replace view mart_device as
with
  shots as (select session_id, count(*) as n_shots from shot group by session_id),
  device as (
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
    group by session_day.device_id
  ),
  worn as (
    select
      player_id,
      device_id,
      on_date,
      lag(device_id) over one_player as before_id,
      lag(on_date) over one_player as before_on
    from session_day
    where device_id is not null
    window one_player as (partition by player_id order by on_date, device_id)
  ),
  -- two devices of a player within 28 days: then somewhere between the two days one follows the other
  changed as (select * from worn where device_id <> before_id and on_date - before_on <= 28),
  tied as (
    select device_id, before_id as other_id, player_id from changed
    union all
    select before_id as device_id, device_id as other_id, player_id from changed
  ),
  compared as (select distinct device_id from device_offset),
  ties as (
    select device_id, count(distinct player_id) as n_tied from tied group by device_id
  ),
  yardstick as (
    select distinct tied.device_id
    from tied
    join compared on compared.device_id = tied.other_id
    join device as one on one.device_id = tied.device_id
    join device as other on other.device_id = tied.other_id
    where (one.first_on, one.device_id) < (other.first_on, other.device_id)
  )
select
  device.*,
  coalesce(ties.n_tied, 0) as n_tied,
  yardstick.device_id is not null and ties.n_tied >= 3 and compared.device_id is null as is_yardstick
from device
left join ties using (device_id)
left join yardstick using (device_id)
left join compared using (device_id);
