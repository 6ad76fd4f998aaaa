-- grain: session_id. A session with its local day in the academy's time zone.
create or replace view session_day as
select
  session.*,
  cast(timezone(academy.time_zone, timezone('UTC', session.started_at)) as date) as on_date
from session
cross join academy;
