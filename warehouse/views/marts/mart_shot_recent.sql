-- grain: session_id, shot_no. The last 60 counting shots of each player with driver, as a plan view shows them.
create or replace view mart_shot_recent as
with landed as (
  select player_id, session_id, shot_no, on_date, club, carry_m, offline_m
  from shot_day
  where club_group = 'driver' and counts and carry_m is not null and offline_m is not null
)
select unnest(max_by(landed, (on_date, session_id, shot_no), 60), recursive := true)
from landed
group by player_id;
