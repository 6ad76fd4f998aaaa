-- grain: trial_id, arm, metric. Change of one measurement in one arm against normal.
create or replace view mart_trial_effect as
select
  trial_id,
  player_id,
  arm,
  metric,
  "n",
  "level",
  worthwhile,
  "mean",
  "low",
  "high",
  more,
  less,
  same,
  is_delivery,
  difference,
  p_value,
  smallest_p,
  n_orders
from trial_effect;
