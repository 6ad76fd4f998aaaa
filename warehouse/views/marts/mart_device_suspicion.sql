-- grain: flag_id. A suspicion of a device, what was said of it, and whether what is taken off since then is the move of which it tells.
-- A person's word is not the last: players on two devices may tell otherwise later.
create or replace view mart_device_suspicion as
with suspected as (
  select
    flag_id,
    device_id,
    metric,
    raised_on,
    closed_on,
    closed_because,
    "value",
    low,
    high,
    n,
    decision,
    decided_on,
    coalesce(try_cast(regexp_extract(array_to_string(reasons, ' '), 'earliest=([0-9-]+)', 1) as date), raised_on) as moved_on
  from flag_told
  where kind = 'device_shift'
),
before as (
  select flag_id, arg_max("offset", from_on) as was
  from suspected
  inner join device_offset using (device_id, metric)
  where from_on < moved_on
  group by flag_id
),
taken as (
  select flag_id, from_on, "value", "offset" - coalesce(was, 0) as taken_off
  from suspected
  inner join device_offset using (device_id, metric)
  left join before using (flag_id)
  where from_on >= moved_on
),
unbroken as (
  select *, bool_and(taken_off / "value" >= 0.5) over (partition by flag_id order by from_on desc) as is_since
  from taken
),
now as (
  select flag_id, min(from_on) filter (is_since) as taken_off_on, arg_max(taken_off, from_on) as taken_off
  from unbroken
  group by flag_id
)
select suspected.* exclude (moved_on), taken_off_on, taken_off, taken_off_on is not null as is_taken_off
from suspected
left join now using (flag_id);
