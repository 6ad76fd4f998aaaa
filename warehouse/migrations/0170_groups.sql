-- Groups and home courses of players, courses of sessions and rounds, events, and plans of whole groups.

create table "player_grouped" (
  "player_id"      VARCHAR not null,
  "alias"          VARCHAR not null,
  "groups"         VARCHAR,
  "course"         VARCHAR,
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
insert into "player_grouped" by name select * from "player";
drop table "player";
alter table "player_grouped" rename to "player";

create table "session_placed" (
  "session_id"       VARCHAR not null,
  "player_id"        VARCHAR not null,
  "started_at"       TIMESTAMP not null,
  "kind"             VARCHAR not null,
  "duration_min"     DOUBLE,
  "effort"           DOUBLE,
  "swings_full"      BIGINT,
  "swings_part"      BIGINT,
  "swings_dry"       BIGINT,
  "course"           VARCHAR,
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
insert into "session_placed" by name select * from "session";
drop table "session";
alter table "session_placed" rename to "session";

create table "round_placed" (
  "player_id"   VARCHAR not null,
  "played_on"   DATE not null,
  "round_no"    BIGINT,
  "course"      VARCHAR,
  "event"       VARCHAR,
  "event_round" BIGINT,
  "holes"       BIGINT,
  "tee_shots"   BIGINT,
  "fairways"    BIGINT,
  "penalties"   BIGINT,
  "strokes"     BIGINT,
  "file_id"     VARCHAR not null,
  "line"        BIGINT not null
);
insert into "round_placed" by name select * from "round";
drop table "round";
alter table "round_placed" rename to "round";

create table "plan_shared" (
  "week_starting" DATE not null,
  "player_id"     VARCHAR,
  "group_name"    VARCHAR,
  "phase"         VARCHAR,
  "swings_full"   BIGINT,
  "swings_speed"  BIGINT,
  "minutes"       DOUBLE,
  "file_id"       VARCHAR not null,
  "line"          BIGINT not null
);
insert into "plan_shared" by name select * from "plan";
drop table "plan";
alter table "plan_shared" rename to "plan";

-- The key of a plan has a third part now, the group, which is empty so far.
update "superseded_row" set part = part || '|', row_key = row_key || '|' where kind = 'plans';
update "problem" set row_key = row_key || '|'
where row_key <> '' and file_id in (select file_id from "file" where kind = 'plans');

-- On which course speed and scatter of a player are weighed.
create table "home_course" (
  "player_id" VARCHAR not null,
  "course"    VARCHAR not null,
  "asked"     VARCHAR
);
