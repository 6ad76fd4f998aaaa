-- grain: flag_id. A flag about the player, for the player's own page.
create or replace view mart_flag_player as
select * exclude (decided_role)
from flag_shown
where player_id <> '';
