-- grain: session_id, shot_no. The last 60 counting shots of each player with driver, as a plan view shows them.
create or replace view mart_shot_recent as
with placed as (
  select session_id, on_date, sum(n_drives) over (partition by player_id order by on_date desc, session_id desc) - n_drives as n_later
  from landed_session
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
