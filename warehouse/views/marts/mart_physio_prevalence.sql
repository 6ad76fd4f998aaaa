-- grain: group_name, week_ending. Share of players with a problem by week, of everybody (empty) and of each group.
create or replace view mart_physio_prevalence as
select
  week_ending,
  n_answered,
  n_any,
  n_substantial,
  share_any,
  any_low,
  any_high,
  share_substantial,
  substantial_low,
  substantial_high,
  group_name
from prevalence_week;
