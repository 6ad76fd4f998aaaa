-- grain: group_name, slice_kind, slice. Injuries with absence over a year, of everybody (empty) and of each group. They are told
-- once any absence has been handed in: before that, none is no finding.
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
  group_name,
  exists (select 1 from absence) as is_told
from burden;
