-- grain: trial_id, metric. The normal swing after a trial against before it, by measurement.
create or replace view mart_trial_since as
select
  trial_id,
  player_id,
  metric,
  normal_until,
  device_id,
  n_before,
  n_after,
  "before",
  "change",
  "low",
  "high",
  margin,
  "within",
  "state",
  more_sessions
from trial_since;
