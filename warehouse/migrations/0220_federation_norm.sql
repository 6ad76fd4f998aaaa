-- What is usual in the federation, month by month, as its shared folder tells it; replaced whenever it tells anything else.
create table "federation_norm" (
  "month_on"         DATE not null,
  "sex"              VARCHAR,
  "age_band"         VARCHAR,
  "standard"         VARCHAR,
  "n_persons"        BIGINT not null,
  "n_academies"      BIGINT not null,
  "speed_centre_mps" DOUBLE not null,
  "speed_spread_pct" DOUBLE not null,
  "speed_p10_mps"    DOUBLE not null,
  "speed_p25_mps"    DOUBLE not null,
  "speed_p50_mps"    DOUBLE not null,
  "speed_p75_mps"    DOUBLE not null,
  "speed_p90_mps"    DOUBLE not null
);

-- From which month of it a quarter without data of its own takes its smallest worthwhile change.
alter table "trend_norm" add column "prior_on" DATE;
