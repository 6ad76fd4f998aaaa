-- grain: player_id, club, device_id, on_date. How fast the fast swings of a day were: nine in ten of the timed ones with a club on a
-- device are no faster.
create or replace view fast_swing_day as
select
  player_id,
  club,
  coalesce(device_id, '') as device_id,
  on_date,
  quantile_cont(club_speed_mps, 0.9) as fast_mps
from effort_swing
where club_speed_mps is not null
group by all;
