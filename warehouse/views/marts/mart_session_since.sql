-- grain: player_id, since_on, club_group, metric, n_since. Each session since a break or a change, against the normal before.
create or replace view mart_session_since as
select
  player_id,
  since_on,
  club_group,
  metric,
  n_since,
  cause,
  until_on,
  session_id,
  on_date,
  value,
  n_before,
  normal,
  n_level,
  level,
  "change",
  change_low,
  change_high,
  worthwhile,
  "within",
  "state",
  reason,
  first_back_on
from session_since;
