-- grain: session_id. A session with its swings: those typed, else those that a device recorded, else unknown.
-- Rest and gym have none unless somebody says so. Part and dry swings that nobody typed are taken as none: only a person knows them.
create or replace view swings_of_session as
with recorded as (
  select session_id, count(*) as n_swings
  from recorded_swing
  group by session_id
)
select
  session_day.session_id,
  session_day.player_id,
  session_day.on_date,
  session_day.kind,
  session_day.duration_min,
  session_day.effort,
  coalesce(session_day.swings_full, recorded.n_swings, case when session_day.kind in ('rest', 'gym') then 0 end) as swings_full,
  coalesce(session_day.swings_part, 0) as swings_part,
  coalesce(session_day.swings_dry, 0) as swings_dry,
  session_day.holes
from session_day
left join recorded using (session_id);
