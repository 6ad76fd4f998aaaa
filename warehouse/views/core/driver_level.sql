-- grain: player_id, metric, session_id. Level of club speed and of left-right scatter with driver after each session, all devices
-- brought together.
create or replace view driver_level as
select player_id, metric, session_id, on_date, "level", level_low, level_high
from trend_point
where club_group = 'driver' and series = '' and metric in ('club_speed_mps', 'scatter_side_m');
