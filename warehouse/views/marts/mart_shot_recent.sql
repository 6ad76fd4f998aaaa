-- grain: session_id, shot_no. The last 60 counting shots of each player with driver, as a plan view shows them.
create or replace view mart_shot_recent as
with numbered as (
  select
    player_id,
    session_id,
    shot_no,
    on_date,
    club,
    carry_m,
    offline_m,
    row_number() over (partition by player_id order by on_date desc, session_id desc, shot_no desc) as place
  from shot_day
  where club_group = 'driver' and counts and carry_m is not null and offline_m is not null
)
select player_id, session_id, shot_no, on_date, club, carry_m, offline_m
from numbered
where place <= 60;
