-- grain: session_id, shot_no. A recorded swing with what tells its effort: how fast it was with which club on which device.
create or replace view effort_swing as
select
  player_id,
  session_id,
  shot_no,
  on_date,
  club,
  club_group,
  device_id,
  club_speed_mps
from recorded_swing;
