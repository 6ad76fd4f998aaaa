-- grain: session_id, player_id, club_group. A session's summary of one group of clubs that shows the normal swing: speed sessions
-- do not. With the first day of its month.
create or replace view normal_session as
select *, cast(date_trunc('month', on_date) as date) as month_on
from session_club
where session_kind <> 'speed';
