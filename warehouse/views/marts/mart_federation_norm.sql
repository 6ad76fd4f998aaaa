-- grain: sex, age_band, standard. What is usual in the federation, of the newest month that it tells.
create or replace view mart_federation_norm as
select
  month_on,
  sex,
  age_band,
  standard,
  n_persons,
  n_academies,
  speed_centre_mps,
  speed_spread_pct,
  speed_p10_mps,
  speed_p25_mps,
  speed_p50_mps,
  speed_p75_mps,
  speed_p90_mps
from federation_norm
where month_on = (select max(month_on) from federation_norm);
