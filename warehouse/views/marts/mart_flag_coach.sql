-- grain: flag_id. A flag that the coach may see: nothing of the body, and of a physio's decision only that there is one.
create or replace view mart_flag_coach as
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
  case when decided_role = 'physio' then 'in hand' else decision end as decision,
  decided_until,
  decision_state
from flag_told
where audience in ('coach', 'both');
