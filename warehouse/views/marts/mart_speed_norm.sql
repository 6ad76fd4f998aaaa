-- grain: from_on. What the squad takes for usual of driver speed now: the newest quarter's norm.
create or replace view mart_speed_norm as
with of_driver as (
  select from_on, worthwhile, is_prior, prior_on
  from trend_norm
  where metric = 'club_speed_mps' and club_group = 'driver'
)
select from_on, worthwhile, is_prior, prior_on
from of_driver
where from_on = (select max(from_on) from of_driver);
