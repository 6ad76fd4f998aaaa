-- grain: player_id, region, against. Differences of a region's stiffness from the first answers or a year ago that last.
create or replace view mart_physio_lasting as
select
  player_id,
  region,
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
from body_lasting
where lasts;
