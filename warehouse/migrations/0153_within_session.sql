-- Cold start and tiring within sessions, by player.

create table "within_session" (
  "player_id"       VARCHAR not null,
  "n_sessions"      BIGINT not null,
  "n_balls"         BIGINT not null,
  "n_early_balls"   BIGINT not null,
  "cold_pct"        DOUBLE,
  "cold_low_pct"    DOUBLE,
  "cold_high_pct"   DOUBLE,
  "full_from_ball"  BIGINT,
  "tired_from_ball" BIGINT not null,
  "n_late_balls"    BIGINT not null,
  "tired_pct"       DOUBLE,
  "tired_low_pct"   DOUBLE,
  "tired_high_pct"  DOUBLE
);
