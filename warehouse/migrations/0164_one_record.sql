-- One record of each player, and what open flags would say today; derived, written anew each night.

create table "player_story" (
  "player_id"           VARCHAR not null,
  "on_date"             DATE,
  "level"               DOUBLE,
  "level_low"           DOUBLE,
  "level_high"          DOUBLE,
  "change_28"           DOUBLE,
  "change_28_low"       DOUBLE,
  "change_28_high"      DOUBLE,
  "p_better"            DOUBLE,
  "p_trivial"           DOUBLE,
  "p_worse"             DOUBLE,
  "worthwhile"          DOUBLE,
  "usual_n"             BIGINT,
  "state"               VARCHAR,
  "then_against"        VARCHAR,
  "then_on"             DATE,
  "then_level"          DOUBLE,
  "then_change"         DOUBLE,
  "then_change_low"     DOUBLE,
  "then_change_high"    DOUBLE,
  "then_n_then"         BIGINT,
  "then_n_now"          BIGINT,
  "then_lasts"          BOOLEAN,
  "strokes_month_on"    DATE,
  "strokes_course"      VARCHAR,
  "strokes_change"      DOUBLE,
  "strokes_change_low"  DOUBLE,
  "strokes_change_high" DOUBLE,
  "strokes_chance_cost" DOUBLE
);

create table "flag_now" (
  "flag_id"   VARCHAR not null,
  "now_on"    DATE not null,
  "now_value" DOUBLE not null
);
