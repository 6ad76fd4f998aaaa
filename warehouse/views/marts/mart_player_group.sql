-- grain: player_id, group_name. One group that a player is in on the last day.
create or replace view mart_player_group as
select player_id, group_name
from group_member;
