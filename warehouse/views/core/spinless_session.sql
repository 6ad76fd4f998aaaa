-- grain: player_id, session_id, club. A session with a shot of a club whose spin was not measured.
create or replace view spinless_session as
select distinct player_id, session_id, club, on_date
from flown_shot
where spin_rpm is null;
