-- grain: trial_id, session_id, shot_no. One counting shot of a trial where it landed, sessions brought together.
create or replace view mart_trial_shot as
select
  trial_id,
  player_id,
  session_id,
  shot_no,
  on_date,
  arm,
  "block",
  club_speed_mps,
  carry_m,
  offline_m,
  is_mishit
from trial_shot;
