-- grain: player_id. A player who has not left by the last day; somebody has left from the leaving day on.
create or replace view present_player as
select player.*
from player
cross join last_day
where coalesce(player.left_on > last_day.on_date, true);
