-- grain: session_id. Minutes of training, of a player who agreed to body reports being kept: what injuries are set against.
create or replace view agreed_training as
select load_session.player_id, load_session.session_id, load_session.on_date, load_session.minutes
from load_session
join agreed_player using (player_id)
where load_session.minutes > 0;
