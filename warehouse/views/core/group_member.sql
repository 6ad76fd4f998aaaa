-- grain: player_id, group_name. Who is in which group on the last day.
create or replace view group_member as
select distinct player_group.player_id, player_group.group_name
from player_group
cross join last_day
where coalesce(player_group.from_on <= last_day.on_date, true)
  and coalesce(player_group.until_on >= last_day.on_date, true);
