-- grain: trial_id, arm, course. Strokes a round of one arm against normal on one course; below 0 is better.
create or replace view mart_trial_strokes as
select
  trial_id,
  player_id,
  arm,
  course,
  is_home,
  tee_shots,
  per_tee_shot,
  "mean",
  "low",
  "high",
  worse,
  better,
  worse_at_all,
  loss_if_kept,
  loss_if_dropped,
  value_of_10,
  value_of_40
from trial_strokes;
