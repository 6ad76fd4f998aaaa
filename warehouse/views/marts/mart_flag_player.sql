-- grain: flag_id. A flag about the player, for the player's own page.
create or replace view mart_flag_player as
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
where player_id <> '';
