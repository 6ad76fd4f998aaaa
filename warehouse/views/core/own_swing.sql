-- grain: session_id, shot_no. A counting shot that says something of the player's own swing, in a session of any kind.
-- Not of it: warm-ups and whatever else does not count; training clubs; the changed arms of a declared trial, which are
-- compared in the trial and followed nowhere else.
create or replace view own_swing as
select shot_day.* exclude (file_id, line)
from shot_day
left join trial using (trial_id)
where shot_day.counts
  and shot_day.club_group <> 'training'
  and coalesce(shot_day.arm = trial.normal_arm, true);
