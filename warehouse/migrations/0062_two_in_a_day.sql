-- Two rounds on one day, and the columns that a file did not have: what it does not have it does not change.

create table "round_numbered" (
  "player_id" VARCHAR not null,
  "played_on" DATE not null,
  "round_no"  BIGINT,
  "holes"     BIGINT,
  "tee_shots" BIGINT,
  "fairways"  BIGINT,
  "penalties" BIGINT,
  "strokes"   BIGINT,
  "file_id"   VARCHAR not null,
  "line"      BIGINT not null
);
insert into "round_numbered" by name select * from "round";
drop table "round";
alter table "round_numbered" rename to "round";

alter table "file" add column "absent" VARCHAR;
