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
compared as (
  select
    suspected.*,
    max(from_on) filter (from_on >= moved_on) as taken_off_on,
    arg_max("offset", from_on) filter (from_on >= moved_on) - coalesce(arg_max("offset", from_on) filter (from_on < moved_on), 0)
      as taken_off
  from suspected
  left join device_offset using (device_id, metric)
  group by all
)
select * exclude (moved_on), coalesce(taken_off / "value" >= 0.5, false) as is_taken_off
from compared;
