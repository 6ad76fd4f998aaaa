-- Flights of shots, and what each session tells of its ball: kept, so that a night flies only what is new.

create table "shot_flight" (
  "session_id"        VARCHAR not null,
  "shot_no"           BIGINT not null,
  "player_id"         VARCHAR not null,
  "spin_used_rpm"     DOUBLE,
  "air_density_kgpm3" DOUBLE,
  "model_carry_m"     DOUBLE,
  "model_offline_m"   DOUBLE,
  "model_run_m"       DOUBLE,
  "day_carry_m"       DOUBLE,
  "day_offline_m"     DOUBLE,
  "flight_reason"     VARCHAR not null
);

create table "ball_cell" (
  "player_id"  VARCHAR not null,
  "session_id" VARCHAR not null,
  "club"       VARCHAR not null,
  "device_id"  VARCHAR,
  "ball"       VARCHAR,
  "month_on"   DATE not null,
  "speed"      DOUBLE not null,
  "speed_n"    BIGINT not null,
  "near"       DOUBLE not null,
  "near_n"     BIGINT not null,
  "indoor"     DOUBLE not null,
  "indoor_n"   BIGINT not null,
  "off"        DOUBLE not null,
  "off_n"      BIGINT not null,
  "pooled_still"         DOUBLE,
  "pooled_day"           DOUBLE,
  "pooled_off"           DOUBLE not null,
  "pooled_off_n"         BIGINT not null,
  "bearman_harvey_still" DOUBLE,
  "bearman_harvey_day"   DOUBLE,
  "bearman_harvey_off"   DOUBLE not null,
  "bearman_harvey_off_n" BIGINT not null
);
