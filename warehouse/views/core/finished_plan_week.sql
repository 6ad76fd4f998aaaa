-- grain: player_id, week_starting. Full swings planned and done in a week that is over.
-- Done is scaled by the days known, at least five of the seven; a week with a day of absence in it says nothing about the plan.
create or replace view finished_plan_week as
select
  load_week.player_id,
  load_week.week_starting,
  cast(load_week.planned_swings_full as double) as planned,
  load_week.done_share_swings_full * load_week.planned_swings_full as done
from load_week
cross join last_day
anti join absence
  on absence.player_id = load_week.player_id
  and absence.began_on <= load_week.week_starting + 6
  and coalesce(absence.ended_on >= load_week.week_starting, true)
where load_week.week_starting + 6 <= last_day.on_date
  and load_week.done_share_swings_full is not null;
