-- grain: session_id, shot_no. A shot that belongs to a trial.
create or replace view arm_shot as
select *
from shot_day
where trial_id is not null;
