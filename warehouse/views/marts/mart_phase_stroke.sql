-- grain: player_id, began_on, course. Strokes a round on one course, of the months on either side of a season phase.
create or replace view mart_phase_stroke as
with months as (
  select
    phase.player_id,
    phase.began_on,
    stroke_month.course,
    stroke_month.month_on,
    stroke_month.n_tee_shots,
    stroke_month.per_round,
    (stroke_month.per_round_high - stroke_month.per_round_low) / 2 as half_width,
    stroke_month.month_on < date_trunc('month', phase.began_on) as is_before
  from mart_phase as phase
  join stroke_month
    on stroke_month.player_id = phase.player_id
    and stroke_month.month_on between date_trunc('month', phase.began_on) - interval 3 months and phase.ended_on
),
sides as (
  select
    player_id,
    began_on,
    course,
    max(month_on) filter (is_before) as before_month_on,
    max(month_on) filter (not is_before) as after_month_on,
    arg_max(per_round, month_on) filter (is_before) as per_round_before,
    arg_max(per_round, month_on) filter (not is_before) as per_round_after,
    arg_max(half_width, month_on) filter (is_before) as half_before,
    arg_max(half_width, month_on) filter (not is_before) as half_after
  from months
  group by player_id, began_on, course
),
changes as (
  select
    *,
    per_round_after - per_round_before as change,
    sqrt(half_after * half_after + half_before * half_before) as half_width
  from sides
  where before_month_on is not null and after_month_on is not null
)
select
  player_id,
  began_on,
  course,
  before_month_on,
  after_month_on,
  per_round_before,
  per_round_after,
  change as stroke_change,
  change - half_width as stroke_change_low,
  change + half_width as stroke_change_high
from changes;
