-- grain: trial_id. Whether load or reports of a trial's weeks ask for a talk before the change is kept.
create or replace view mart_trial_question as
select trial_id, player_id, body_side
from trial_result;
