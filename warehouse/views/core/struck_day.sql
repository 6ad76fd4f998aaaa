-- grain: player_id, on_date. A day with a session in which balls are struck.
create or replace view struck_day as
select distinct player_id, on_date
from session_day
where kind not in ('gym', 'rest');
