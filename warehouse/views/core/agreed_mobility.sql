-- grain: player_id, date, test, side. A screen, of a player who agreed to its being kept.
create or replace view agreed_mobility as
select mobility.*
from mobility
join agreed_player using (player_id);
