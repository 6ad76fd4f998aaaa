-- grain: player_id. Whether a player answers, of players who agreed.
create or replace view agreed_answering as
select answering.*
from answering
join agreed_player using (player_id);
