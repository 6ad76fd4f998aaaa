-- Derived tables of the season's programme: recomputed as a whole in every run.

-- One season phase of one player: planned and done, and the levels on either side of it.
create table "phase" (
  "player_id"             VARCHAR not null,
  "phase"                 VARCHAR not null,
  "began_on"              DATE not null,
  "ended_on"              DATE not null,
  "n_weeks"               BIGINT not null,
  "n_days"                BIGINT not null,
  "n_days_known"          BIGINT not null,
  "planned_full"          BIGINT,
  "planned_speed"         BIGINT,
  "planned_minutes"       DOUBLE,
  "done_full"             BIGINT,
  "done_share"            DOUBLE,
  "done_minutes"          DOUBLE,
  "n_sessions"            BIGINT not null,
  "n_speed_sessions"      BIGINT not null,
  "speed_before_mps"      DOUBLE,
  "speed_after_mps"       DOUBLE,
  "speed_change_mps"      DOUBLE,
  "speed_change_low_mps"  DOUBLE,
  "speed_change_high_mps" DOUBLE,
  "scatter_change_m"      DOUBLE,
  "scatter_change_low_m"  DOUBLE,
  "scatter_change_high_m" DOUBLE
);

-- Strokes a round on one course, of the months on either side of a season phase.
create table "phase_stroke" (
  "player_id"          VARCHAR not null,
  "began_on"           DATE not null,
  "course"             VARCHAR not null,
  "before_month_on"    DATE not null,
  "after_month_on"     DATE not null,
  "per_round_before"   DOUBLE not null,
  "per_round_after"    DOUBLE not null,
  "stroke_change"      DOUBLE not null,
  "stroke_change_low"  DOUBLE not null,
  "stroke_change_high" DOUBLE not null
);
