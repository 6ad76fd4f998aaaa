-- grain: flag_id. A flag that the physio may see: load and body.
create or replace view mart_flag_physio as
select * exclude (decided_role)
from flag_shown
where audience in ('physio', 'both');
