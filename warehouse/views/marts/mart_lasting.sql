-- grain: player_id, club_group, metric, against. Levels now against the first normal or a year ago, and whether the difference lasts.
create or replace view mart_lasting as
select
  player_id,
  club_group,
  metric,
  against,
  then_on,
  then_level,
  now_on,
  now_level,
  "change",
  change_low,
  change_high,
  n_then,
  n_now,
  lasts
from lasting_difference;
