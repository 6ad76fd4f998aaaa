-- grain: session_id. A session with shots that do not count: it was warmed up for.
create or replace view warm_up_session as
select distinct session_id
from shot_day
where not counts;
