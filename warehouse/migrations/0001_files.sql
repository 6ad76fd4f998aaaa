-- Tables that hold the rows of files, with provenance (file_id, line), and the ledger of files and problems.
-- No secondary index: one would block later changes of a table.

create table "player" (
  "player_id"      VARCHAR not null,
  "alias"          VARCHAR not null,
  "birth_year"     BIGINT,
  "sex"            VARCHAR,
  "handed"         VARCHAR,
  "joined_on"      DATE,
  "left_on"        DATE,
  "standard"       VARCHAR,
  "health_consent" BOOLEAN,
  "height_cm"      DOUBLE,
  "file_id"        VARCHAR not null,
  "line"           BIGINT not null
);

create table "session" (
  "session_id"       VARCHAR not null,
  "player_id"        VARCHAR not null,
  "started_at"       TIMESTAMP not null,
  "kind"             VARCHAR not null,
  "duration_min"     DOUBLE,
  "effort"           DOUBLE,
  "swings_full"      BIGINT,
  "swings_part"      BIGINT,
  "swings_dry"       BIGINT,
  "holes"            BIGINT,
  "device_id"        VARCHAR,
  "bay_id"           VARCHAR,
  "ball"             VARCHAR,
  "indoors"          BOOLEAN,
  "air_temp_c"       DOUBLE,
  "air_pressure_hpa" DOUBLE,
  "humidity_pct"     DOUBLE,
  "altitude_m"       DOUBLE,
  "wind_mps"         DOUBLE,
  "wind_from_deg"    DOUBLE,
  "note"             VARCHAR,
  "file_id"          VARCHAR not null,
  "line"             BIGINT not null
);

create table "trial" (
  "trial_id"   VARCHAR not null,
  "player_id"  VARCHAR not null,
  "question"   VARCHAR not null,
  "normal_arm" VARCHAR not null,
  "arms"       VARCHAR not null,
  "began_on"   DATE not null,
  "file_id"    VARCHAR not null,
  "line"       BIGINT not null
);

create table "shot" (
  "session_id"       VARCHAR not null,
  "player_id"        VARCHAR not null,
  "shot_no"          BIGINT not null,
  "struck_at"        TIMESTAMP not null,
  "club"             VARCHAR not null,
  "club_speed_mps"   DOUBLE,
  "ball_speed_mps"   DOUBLE,
  "launch_deg"       DOUBLE,
  "direction_deg"    DOUBLE,
  "spin_rpm"         DOUBLE,
  "spin_axis_deg"    DOUBLE,
  "carry_m"          DOUBLE,
  "offline_m"        DOUBLE,
  "apex_m"           DOUBLE,
  "descent_deg"      DOUBLE,
  "attack_deg"       DOUBLE,
  "path_deg"         DOUBLE,
  "face_deg"         DOUBLE,
  "loft_deg"         DOUBLE,
  "strike_side_mm"   DOUBLE,
  "strike_height_mm" DOUBLE,
  "counts"           BOOLEAN,
  "trial_id"         VARCHAR,
  "arm"              VARCHAR,
  "block_no"         BIGINT,
  "file_id"          VARCHAR not null,
  "line"             BIGINT not null
);

create table "checkin" (
  "player_id"            VARCHAR not null,
  "date"                 DATE not null,
  "fatigue"              DOUBLE,
  "soreness"             DOUBLE,
  "stress"               DOUBLE,
  "sleep_trouble"        DOUBLE,
  "sleep_h"              DOUBLE,
  "stiff_neck"           DOUBLE,
  "stiff_upper_back"     DOUBLE,
  "stiff_lower_back"     DOUBLE,
  "stiff_lead_shoulder"  DOUBLE,
  "stiff_trail_shoulder" DOUBLE,
  "stiff_lead_elbow"     DOUBLE,
  "stiff_trail_elbow"    DOUBLE,
  "stiff_lead_wrist"     DOUBLE,
  "stiff_trail_wrist"    DOUBLE,
  "stiff_lead_hip"       DOUBLE,
  "stiff_trail_hip"      DOUBLE,
  "stiff_lead_knee"      DOUBLE,
  "stiff_trail_knee"     DOUBLE,
  "note"                 VARCHAR,
  "file_id"              VARCHAR not null,
  "line"                 BIGINT not null
);

create table "problem_report" (
  "player_id"     VARCHAR not null,
  "week_ending"   DATE not null,
  "region"        VARCHAR not null,
  "participation" BIGINT,
  "modified"      BIGINT,
  "performance"   BIGINT,
  "symptoms"      BIGINT,
  "onset"         VARCHAR,
  "note"          VARCHAR,
  "file_id"       VARCHAR not null,
  "line"          BIGINT not null
);

create table "absence" (
  "player_id" VARCHAR not null,
  "began_on"  DATE not null,
  "kind"      VARCHAR not null,
  "ended_on"  DATE,
  "region"    VARCHAR,
  "onset"     VARCHAR,
  "file_id"   VARCHAR not null,
  "line"      BIGINT not null
);

create table "plan" (
  "player_id"     VARCHAR not null,
  "week_starting" DATE not null,
  "phase"         VARCHAR,
  "swings_full"   BIGINT,
  "swings_speed"  BIGINT,
  "minutes"       DOUBLE,
  "file_id"       VARCHAR not null,
  "line"          BIGINT not null
);

create table "mobility" (
  "player_id" VARCHAR not null,
  "date"      DATE not null,
  "test"      VARCHAR not null,
  "value_deg" DOUBLE not null,
  "side"      VARCHAR,
  "file_id"   VARCHAR not null,
  "line"      BIGINT not null
);

create table "round" (
  "player_id" VARCHAR not null,
  "played_on" DATE not null,
  "holes"     BIGINT,
  "tee_shots" BIGINT,
  "fairways"  BIGINT,
  "penalties" BIGINT,
  "strokes"   BIGINT,
  "file_id"   VARCHAR not null,
  "line"      BIGINT not null
);

create table "decision" (
  "flag_id"    VARCHAR not null,
  "decided_on" DATE not null,
  "role"       VARCHAR not null,
  "decision"   VARCHAR not null,
  "until"      DATE,
  "note"       VARCHAR,
  "player_id"  VARCHAR,
  "flag_kind"  VARCHAR,
  "region"     VARCHAR,
  "raised_on"  DATE,
  "file_id"    VARCHAR not null,
  "line"       BIGINT not null
);

create table "file" (
  "file_id"       VARCHAR not null,
  "name"          VARCHAR not null,
  "kind"          VARCHAR,
  "mapping"       VARCHAR,
  "modified_at"   TIMESTAMP not null,
  "received_at"   TIMESTAMP not null,
  "bytes"         BIGINT not null,
  "n_rows"        BIGINT not null,
  "n_loaded"      BIGINT not null,
  "n_quarantined" BIGINT not null,
  "n_ignored"     BIGINT not null,
  "n_warnings"    BIGINT not null,
  "status"        VARCHAR not null,
  "superseded_by" VARCHAR,
  "kept_as"       VARCHAR not null,
  "redacted"      BOOLEAN not null
);

create table "problem" (
  "file_id"  VARCHAR not null,
  "line"     BIGINT,
  "column"   VARCHAR not null,
  "value"    VARCHAR not null,
  "rule"     VARCHAR not null,
  "allowed"  VARCHAR not null,
  "hint"     VARCHAR not null,
  "severity" VARCHAR not null,
  "row_key"  VARCHAR not null,
  "closed"   BOOLEAN not null
);

create table "academy" (
  "name"      VARCHAR not null,
  "time_zone" VARCHAR not null
);

create table "club" (
  "club"       VARCHAR not null,
  "club_group" VARCHAR not null
);

insert into club values
  ('driver', 'driver'),
  ('3-wood', 'fairway'),
  ('4-wood', 'fairway'),
  ('5-wood', 'fairway'),
  ('7-wood', 'fairway'),
  ('9-wood', 'fairway'),
  ('2-hybrid', 'hybrid'),
  ('3-hybrid', 'hybrid'),
  ('4-hybrid', 'hybrid'),
  ('5-hybrid', 'hybrid'),
  ('6-hybrid', 'hybrid'),
  ('1-iron', 'iron'),
  ('2-iron', 'iron'),
  ('3-iron', 'iron'),
  ('4-iron', 'iron'),
  ('5-iron', 'iron'),
  ('6-iron', 'iron'),
  ('7-iron', 'iron'),
  ('8-iron', 'iron'),
  ('9-iron', 'iron'),
  ('pitching-wedge', 'wedge'),
  ('gap-wedge', 'wedge'),
  ('sand-wedge', 'wedge'),
  ('lob-wedge', 'wedge'),
  ('putter', 'putter'),
  ('light-stick', 'training'),
  ('heavy-stick', 'training');
