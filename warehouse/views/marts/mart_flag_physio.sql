-- grain: flag_id. A flag that the physio may see: load and body.
create or replace view mart_flag_physio as
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
  probability,
  n,
  strength,
  reasons,
  decision,
  decided_until,
  decision_state
from flag_told
where audience in ('physio', 'both');
