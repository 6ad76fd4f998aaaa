-- Score cards by month, and whether the tee game's change shows in them.

create table "round_month" (
  "player_id"      VARCHAR not null,
  "month_on"       DATE not null,
  "n_rounds"       BIGINT not null,
  "n_holes"        BIGINT not null,
  "score"          DOUBLE not null,
  "score_low"      DOUBLE,
  "score_high"     DOUBLE,
  "n_tee_shots"    BIGINT not null,
  "fairway_share"  DOUBLE,
  "fairway_low"    DOUBLE,
  "fairway_high"   DOUBLE,
  "penalties"      DOUBLE,
  "penalties_low"  DOUBLE,
  "penalties_high" DOUBLE
);

create table "score_gain" (
  "player_id"           VARCHAR not null,
  "month_on"            DATE not null,
  "course"              VARCHAR not null,
  "recent_from_on"      DATE not null,
  "n_rounds"            BIGINT not null,
  "score"               DOUBLE not null,
  "score_low"           DOUBLE,
  "score_high"          DOUBLE,
  "round_sd"            DOUBLE,
  "reference_from_on"   DATE,
  "reference_to_on"     DATE,
  "n_reference_rounds"  BIGINT not null,
  "expected_change"     DOUBLE,
  "expected_low"        DOUBLE,
  "expected_high"       DOUBLE,
  "score_change"        DOUBLE,
  "change_low"          DOUBLE,
  "change_high"         DOUBLE,
  "rounds_to_see"       BIGINT,
  "state"               VARCHAR not null,
  "n_tee_shots"         BIGINT not null,
  "drive_fairway_share" DOUBLE not null,
  "card_fairway_share"  DOUBLE,
  "card_fairway_low"    DOUBLE,
  "card_fairway_high"   DOUBLE,
  "fairway_state"       VARCHAR not null
);
