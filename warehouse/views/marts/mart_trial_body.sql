-- grain: trial_id, metric. One rating in the weeks of a trial against the 28 days before.
create or replace view mart_trial_body as
select
  trial_id,
  player_id,
  metric,
  "before",
  during,
  n_before,
  n_during,
  raised
from trial_body;
