-- grain: group_name, slice_kind, slice. Injuries with absence over a year, of everybody (empty) and of each group.
create or replace view mart_physio_burden as
select
  slice_kind,
  slice,
  n,
  hours,
  incidence,
  incidence_low,
  incidence_high,
  mean_days,
  burden,
  burden_low,
  burden_high,
  group_name
from burden;
