-- grain: player_id, week_starting. Full swings planned and done in a week that is over.
-- A week with a day of absence in it says nothing about the plan, and neither does one with fewer than five known days.
create or replace view finished_plan_week as
select
  plan_week.player_id,
  plan_week.week_starting,
  cast(plan_week.planned_swings_full as double) as planned,
  plan_week.done_swings_full as done
from plan_week
cross join last_day
anti join absence
  on absence.player_id = plan_week.player_id
  and absence.began_on <= plan_week.week_starting + 6
  and coalesce(absence.ended_on >= plan_week.week_starting, true)
where plan_week.week_starting + 6 <= last_day.on_date
  and plan_week.planned_swings_full is not null
  and plan_week.done_swings_full is not null;
