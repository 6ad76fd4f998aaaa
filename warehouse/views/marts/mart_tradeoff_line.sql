-- grain: player_id, course, step, point_no. One point of a line of equal strokes on one player's trade-off map of one course.
create or replace view mart_tradeoff_line as
select
  player_id,
  course,
  step,
  point_no,
  club_speed_mps,
  direction_sd_deg
from tradeoff_line;
