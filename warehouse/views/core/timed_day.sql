-- grain: player_id, on_date. A day with a club speed in any session.
create or replace view timed_day as
select distinct player_id, on_date
from session_club
where club_speed_mps_n > 0;
