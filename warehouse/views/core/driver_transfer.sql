-- grain: player_id, month_on. What became of driver speed on its way to carry, in a month.
create or replace view driver_transfer as
select *
from transfer_month
where club = 'driver';
