-- grain: session_id, shot_no. All of a shot that tells its number in the session, and whether it is a drive of the normal swing: what
-- driver_ball is made of, without numbering.
create or replace view told_ball as
select
  shot_day.player_id,
  shot_day.session_id,
  shot_day.shot_no,
  shot_day.struck_at,
  shot_day.on_date,
  shot_day.session_kind,
  shot_day.club,
  shot_day.club_speed_mps,
  shot_day.counts,
  coalesce(shot_day.arm = trial.normal_arm, true) as is_normal
from shot_day
left join trial using (trial_id);
