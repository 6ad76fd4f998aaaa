-- grain: one row. The day on which the last night's tables end; null before any session has come.
create or replace view last_day as
select max(on_date) as on_date
from load_day;
