-- grain: player_id, began_on, course. Strokes a round on one course, of the months on either side of a season phase.
create or replace view mart_phase_stroke as
select
  player_id,
  began_on,
  course,
  before_month_on,
  after_month_on,
  per_round_before,
  per_round_after,
  stroke_change,
  stroke_change_low,
  stroke_change_high
from phase_stroke;
