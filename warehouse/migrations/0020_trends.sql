-- Trends of session values, own normals, the squad's norms, confirmed shifts and device offsets; all derived, written anew each night.

create table "trend_point" (
  "player_id"      VARCHAR not null,
  "session_id"     VARCHAR not null,
  "club_group"     VARCHAR not null,
  "club"           VARCHAR not null,
  "metric"         VARCHAR not null,
  "series"         VARCHAR not null,
  "on_date"        DATE not null,
  "device_id"      VARCHAR not null,
  "n"              BIGINT not null,
  "value"          DOUBLE not null,
  "offset"         DOUBLE not null,
  "level"          DOUBLE not null,
  "level_low"      DOUBLE not null,
  "level_high"     DOUBLE not null,
  "change_28"      DOUBLE,
  "change_28_low"  DOUBLE,
  "change_28_high" DOUBLE,
  "p_up"           DOUBLE,
  "p_better"       DOUBLE,
  "p_trivial"      DOUBLE,
  "p_worse"        DOUBLE,
  "p_half"         DOUBLE,
  "worthwhile"     DOUBLE not null,
  "odd"            DOUBLE not null,
  "usual"          DOUBLE,
  "usual_sd"       DOUBLE,
  "usual_n"        BIGINT not null,
  "chart_up"       DOUBLE not null,
  "chart_down"     DOUBLE not null,
  "p_chart_up"     DOUBLE not null,
  "p_chart_down"   DOUBLE not null,
  "state"          VARCHAR not null
);

create table "trend_norm" (
  "metric"        VARCHAR not null,
  "club_group"    VARCHAR not null,
  "from_on"       DATE not null,
  "session_sd"    DOUBLE not null,
  "shot_sd"       DOUBLE not null,
  "typical_error" DOUBLE not null,
  "worthwhile"    DOUBLE not null,
  "detectable"    DOUBLE not null,
  "correlation"   DOUBLE not null,
  "n_players"     BIGINT not null,
  "n_pairs"       BIGINT not null,
  "is_prior"      BOOLEAN not null
);

create table "trend_shift" (
  "player_id"  VARCHAR not null,
  "club_group" VARCHAR not null,
  "metric"     VARCHAR not null,
  "series"     VARCHAR not null,
  "found_on"   DATE not null,
  "began_on"   DATE not null,
  "upward"     BOOLEAN not null
);

create table "baseline" (
  "player_id"   VARCHAR not null,
  "club_group"  VARCHAR not null,
  "metric"      VARCHAR not null,
  "own_level"   DOUBLE not null,
  "level"       DOUBLE not null,
  "level_low"   DOUBLE not null,
  "level_high"  DOUBLE not null,
  "squad_share" DOUBLE,
  "n_sessions"  BIGINT not null,
  "n_shots"     BIGINT not null,
  "learning"    BOOLEAN not null
);

create table "device_offset" (
  "device_id" VARCHAR not null,
  "metric"    VARCHAR not null,
  "from_on"   DATE not null,
  "offset"    DOUBLE not null,
  "error"     DOUBLE,
  "n_players" BIGINT not null,
  "n_bridges" BIGINT not null,
  "basis"     VARCHAR not null
);
