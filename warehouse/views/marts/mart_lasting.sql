-- grain: player_id, club_group, metric, against. Differences of the level from the first normal or a year ago that last.
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
  n_now
from lasting_difference
where lasts;
