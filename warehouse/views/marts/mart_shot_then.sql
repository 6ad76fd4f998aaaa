-- grain: session_id, shot_no. The last 60 counting driver shots of each player that are at least 180 days older than the newest, to
-- lay beside those of now.
create or replace view mart_shot_then as
with landed as (
  select player_id, session_id, shot_no, on_date, club, carry_m, offline_m
  from shot_day
  where club_group = 'driver' and counts and carry_m is not null and offline_m is not null
),
until as (
  select player_id, max(on_date) - 180 as until_on
  from landed
  group by player_id
)
select unnest(max_by(landed, (landed.on_date, landed.session_id, landed.shot_no), 60), recursive := true)
from landed
join until using (player_id)
where landed.on_date <= until.until_on
group by landed.player_id;
