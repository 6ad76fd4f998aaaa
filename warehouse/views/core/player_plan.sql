-- grain: player_id, week_starting. The plan of a player's week: the player's own, else that of the first of their groups with one.
-- A group's plan is for those who are in the group and at the academy on any day of that week.
create or replace view player_plan as
with offered as (
  select player_id, week_starting, phase, swings_full, swings_speed, minutes, file_id, line, null as place
  from plan
  where player_id is not null
  union all
  select
    player.player_id, plan.week_starting, plan.phase, plan.swings_full, plan.swings_speed, plan.minutes, plan.file_id, plan.line,
    player_group.place
  from player_group
  join plan using (group_name)
  join player on player.player_id = player_group.player_id
  where coalesce(player_group.from_on <= plan.week_starting + 6, true)
    and coalesce(player_group.until_on >= plan.week_starting, true)
    and coalesce(player.joined_on <= plan.week_starting + 6, true)
    and coalesce(player.left_on > plan.week_starting, true)
)
select * exclude (place)
from offered
qualify row_number() over (partition by player_id, week_starting order by place nulls first) = 1;
