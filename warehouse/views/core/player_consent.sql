-- grain: player_id. Every player, and whether body reports may be kept.
create or replace view player_consent as
select player.player_id, agreed_player.player_id is not null as agreed
from player
left join agreed_player using (player_id);
