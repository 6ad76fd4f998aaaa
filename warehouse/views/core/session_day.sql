-- grain: session_id. A session with its local day in the academy's time zone. The instant is made from its microseconds, which costs
-- half of what it does to take the time as one in UTC.
create or replace view session_day as
select
  session.*,
  cast(timezone(academy.time_zone, make_timestamptz(epoch_us(session.started_at))) as date) as on_date
from session
cross join academy;
