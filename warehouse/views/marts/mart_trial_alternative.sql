-- grain: trial_id, kind, name, began_on. What the change, and what the phases of the same months, went along with.
create or replace view mart_trial_alternative as
select
  trial_id,
  player_id,
  kind,
  "name",
  began_on,
  ended_on,
  "n",
  speed_pct,
  speed_low_pct,
  speed_high_pct,
  scatter_ratio,
  scatter_low,
  scatter_high
from trial_alternative;
