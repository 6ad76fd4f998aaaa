-- Derived tables of technique trials: recomputed as a whole in every run.

-- One trial with its verdict, or the statements that stand in its place.
create table "trial_result" (
  "trial_id"         VARCHAR not null,
  "player_id"        VARCHAR not null,
  "question"         VARCHAR not null,
  "normal_arm"       VARCHAR not null,
  "arms"             VARCHAR[] not null,
  "is_declared"      BOOLEAN not null,
  "began_on"         DATE,
  "last_on"          DATE,
  "n_shots"          BIGINT not null,
  "n_days"           BIGINT not null,
  "club"             VARCHAR,
  "state"            VARCHAR not null,
  "statements"       VARCHAR[] not null,
  "notes"            VARCHAR[] not null,
  "best_arm"         VARCHAR,
  "verdict"          VARCHAR,
  "reason"           VARCHAR,
  "speed_side"       VARCHAR,
  "strokes_side"     VARCHAR,
  "scatter_side"     VARCHAR,
  "body_side"        VARCHAR not null,
  "load_ratio"       DOUBLE,
  "home_course"      VARCHAR not null,
  "speed_cv_pct"     DOUBLE,
  "more_for_speed"   BIGINT,
  "more_for_scatter" BIGINT,
  "value_of_more"    DOUBLE
);

-- One arm of a trial: its shots, its pattern and its verdict.
create table "trial_arm" (
  "trial_id"         VARCHAR not null,
  "player_id"        VARCHAR not null,
  "arm"              VARCHAR not null,
  "amount"           BIGINT not null,
  "is_normal"        BOOLEAN not null,
  "is_compared"      BOOLEAN not null,
  "n_shots"          BIGINT not null,
  "n_blocks"         BIGINT not null,
  "club_speed_mps"   DOUBLE,
  "n_landed"         BIGINT not null,
  "n_mishits"        BIGINT not null,
  "mishit_rate"      DOUBLE,
  "mishit_low"       DOUBLE,
  "mishit_high"      DOUBLE,
  "carry_m"          DOUBLE,
  "offline_m"        DOUBLE,
  "carry_sd_m"       DOUBLE,
  "offline_sd_m"     DOUBLE,
  "ellipse_long_m"   DOUBLE,
  "ellipse_short_m"  DOUBLE,
  "ellipse_tilt_deg" DOUBLE,
  "left_right_ratio" DOUBLE,
  "left_right_low"   DOUBLE,
  "left_right_high"  DOUBLE,
  "left_right_wider" DOUBLE,
  "long_short_ratio" DOUBLE,
  "long_short_low"   DOUBLE,
  "long_short_high"  DOUBLE,
  "verdict"          VARCHAR,
  "reason"           VARCHAR,
  "speed_side"       VARCHAR,
  "strokes_side"     VARCHAR,
  "scatter_side"     VARCHAR
);

-- Change of one measurement in one arm against normal.
create table "trial_effect" (
  "trial_id"    VARCHAR not null,
  "player_id"   VARCHAR not null,
  "arm"         VARCHAR not null,
  "metric"      VARCHAR not null,
  "n"           BIGINT not null,
  "level"       DOUBLE not null,
  "worthwhile"  DOUBLE not null,
  "mean"        DOUBLE not null,
  "low"         DOUBLE not null,
  "high"        DOUBLE not null,
  "more"        DOUBLE not null,
  "less"        DOUBLE not null,
  "same"        DOUBLE not null,
  "is_delivery" BOOLEAN not null,
  "difference"  DOUBLE,
  "p_value"     DOUBLE,
  "smallest_p"  DOUBLE,
  "n_orders"    BIGINT
);

-- Change of one measurement for each step of the change, over three or more ordered arms.
create table "trial_dose" (
  "trial_id"  VARCHAR not null,
  "player_id" VARCHAR not null,
  "metric"    VARCHAR not null,
  "mean"      DOUBLE not null,
  "low"       DOUBLE not null,
  "high"      DOUBLE not null,
  "rising"    DOUBLE not null
);

-- Strokes a round of one arm against normal on one course; below 0 is better.
create table "trial_strokes" (
  "trial_id"        VARCHAR not null,
  "player_id"       VARCHAR not null,
  "arm"             VARCHAR not null,
  "course"          VARCHAR not null,
  "is_home"         BOOLEAN not null,
  "tee_shots"       BIGINT not null,
  "per_tee_shot"    DOUBLE not null,
  "mean"            DOUBLE not null,
  "low"             DOUBLE not null,
  "high"            DOUBLE not null,
  "worse"           DOUBLE not null,
  "better"          DOUBLE not null,
  "worse_at_all"    DOUBLE not null,
  "loss_if_kept"    DOUBLE not null,
  "loss_if_dropped" DOUBLE not null,
  "value_of_10"     DOUBLE not null,
  "value_of_40"     DOUBLE not null
);

-- One counting shot of a trial where it landed, sessions brought together.
create table "trial_shot" (
  "trial_id"       VARCHAR not null,
  "player_id"      VARCHAR not null,
  "session_id"     VARCHAR not null,
  "shot_no"        BIGINT not null,
  "on_date"        DATE not null,
  "arm"            VARCHAR not null,
  "block"          BIGINT not null,
  "club_speed_mps" DOUBLE,
  "carry_m"        DOUBLE,
  "offline_m"      DOUBLE,
  "is_mishit"      BOOLEAN not null
);

-- One rating in the weeks of a trial against the 28 days before.
create table "trial_body" (
  "trial_id"  VARCHAR not null,
  "player_id" VARCHAR not null,
  "metric"    VARCHAR not null,
  "before"    DOUBLE not null,
  "during"    DOUBLE not null,
  "n_before"  BIGINT not null,
  "n_during"  BIGINT not null,
  "raised"    DOUBLE not null
);

-- The normal swing after a trial against before it, by measurement.
create table "trial_since" (
  "trial_id"      VARCHAR not null,
  "player_id"     VARCHAR not null,
  "metric"        VARCHAR not null,
  "normal_until"  DATE not null,
  "device_id"     VARCHAR,
  "n_before"      BIGINT not null,
  "n_after"       BIGINT not null,
  "before"        DOUBLE not null,
  "change"        DOUBLE not null,
  "low"           DOUBLE not null,
  "high"          DOUBLE not null,
  "margin"        DOUBLE not null,
  "within"        DOUBLE not null,
  "state"         VARCHAR not null,
  "more_sessions" BIGINT
);

-- What the change, and what the phases of the same months, went along with.
create table "trial_alternative" (
  "trial_id"       VARCHAR not null,
  "player_id"      VARCHAR not null,
  "kind"           VARCHAR not null,
  "name"           VARCHAR not null,
  "began_on"       DATE not null,
  "ended_on"       DATE not null,
  "n"              BIGINT not null,
  "speed_pct"      DOUBLE,
  "speed_low_pct"  DOUBLE,
  "speed_high_pct" DOUBLE,
  "scatter_ratio"  DOUBLE,
  "scatter_low"    DOUBLE,
  "scatter_high"   DOUBLE
);
