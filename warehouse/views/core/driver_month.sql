-- grain: player_id, month_on. The driver's pattern of a month.
create or replace view driver_month as
select *
from pattern_month
where club_group = 'driver';
