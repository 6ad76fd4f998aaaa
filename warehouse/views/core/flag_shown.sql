-- grain: flag_id. The columns of a flag that readers may see, listed once; the marts add who sees which flags.
create or replace view flag_shown as
select
  flag_id,
  player_id,
  alias,
  kind,
  level,
  audience,
  raised_on,
  alerted_on,
  closed_on,
  closed_because,
  metric,
  region,
  club_group,
  device_id,
  "value",
  baseline,
  low,
  high,
  n,
  strength,
  reasons,
  decision,
  decided_until,
  decision_state,
  decided_role
from flag_told;
