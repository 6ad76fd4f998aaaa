-- grain: session_id, shot_no. A shot that belongs to a trial: up to the day on which the trial was ended, where it was.
create or replace view arm_shot as
select shot_day.* exclude (file_id, line)
from shot_day
left join trial using (trial_id)
where trial_id is not null
  and coalesce(shot_day.on_date <= trial.ended_on, true);
