-- grain: flag_id. A flag that the coach may see: nothing of the body, and of a physio's decision only that there is one.
create or replace view mart_flag_coach as
select * exclude (decided_role) replace (
  case when decided_role = 'physio' then 'in hand' else decision end as decision,
  case when decided_role = 'physio' then null else decided_on end as decided_on
)
from flag_shown
where audience in ('coach', 'both');
