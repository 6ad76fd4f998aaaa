-- grain: trial_id, metric. Change of one measurement for each step of the change, over three or more ordered arms.
create or replace view mart_trial_dose as
select
  trial_id,
  player_id,
  metric,
  "mean",
  "low",
  "high",
  rising
from trial_dose;
