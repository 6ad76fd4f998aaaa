-- grain: session_id, shot_no. A normal swing with its comparable carry, and the first day of its month.
create or replace view swing_of_month as
select *, cast(date_trunc('month', on_date) as date) as month_on
from comparable_swing;
