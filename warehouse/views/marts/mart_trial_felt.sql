-- grain: trial_id, arm, felt. What was felt at the shots of an arm, whether they counted or not, and at how many of them.
create or replace view mart_trial_felt as
select
  trial_id,
  player_id,
  arm,
  felt,
  count(*) as n_shots
from arm_shot
where felt is not null and arm is not null
group by trial_id, player_id, arm, felt;
