-- grain: session_id, player_id, club_group, club. How often a session struck a club with the player's own swing.
create or replace view club_of_session as
select session_id, player_id, club_group, club, on_date, count(*) as n_shots
from own_swing
group by session_id, player_id, club_group, club, on_date;
