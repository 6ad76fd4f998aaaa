-- grain: session_id, shot_no. The last 60 counting driver shots of each player that are at least 180 days older than the newest, to
-- lay beside those of now.
create or replace view mart_shot_then as
with dated as (
  select *, max(on_date) over (partition by player_id) - 180 as until_on
  from landed_session
),
placed as (
  select session_id, on_date, sum(n_drives) over (partition by player_id order by on_date desc, session_id desc) - n_drives as n_later
  from dated
  where on_date <= until_on
),
wanted as (
  select * from placed
  where n_later < 60
)
select
  landed_drive.player_id,
  landed_drive.session_id,
  landed_drive.shot_no,
  wanted.on_date,
  landed_drive.club,
  landed_drive.carry_m,
  landed_drive.offline_m
from landed_drive
join wanted using (session_id)
qualify wanted.n_later + row_number() over (partition by landed_drive.session_id order by landed_drive.shot_no desc) <= 60;
