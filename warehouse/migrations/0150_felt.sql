-- What was felt at a shot, as a shot sheet notes it.

create table "shot_felt" (
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
  "felt"             VARCHAR,
  "file_id"          VARCHAR not null,
  "line"             BIGINT not null
);
insert into "shot_felt" by name select * from "shot";
drop table "shot";
alter table "shot_felt" rename to "shot";
