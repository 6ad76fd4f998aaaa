-- grain: session_id, shot_no. The last 60 counting driver shots of each player that are at least 180 days older than the newest, to
-- lay beside those of now.
create or replace view mart_shot_then as
with landed as (
  select
    player_id,
    session_id,
    shot_no,
    on_date,
    club,
    carry_m,
    offline_m,
    max(on_date) over (partition by player_id) as newest_on
  from shot_day
  where club_group = 'driver' and counts and carry_m is not null and offline_m is not null
),
numbered as (
  select *, row_number() over (partition by player_id order by on_date desc, session_id desc, shot_no desc) as place
  from landed
  where on_date <= newest_on - 180
)
select player_id, session_id, shot_no, on_date, club, carry_m, offline_m
from numbered
where place <= 60;
