-- The order of shots of a trial, and how far its shots kept to it.

create table "trial_ordered" (
  "trial_id"   VARCHAR not null,
  "player_id"  VARCHAR not null,
  "question"   VARCHAR not null,
  "normal_arm" VARCHAR not null,
  "arms"       VARCHAR not null,
  "began_on"   DATE not null,
  "sheet"      VARCHAR,
  "file_id"    VARCHAR not null,
  "line"       BIGINT not null
);
insert into "trial_ordered" by name select * from "trial";
drop table "trial";
alter table "trial_ordered" rename to "trial";

alter table "trial_result" add column "sheet_planned" BIGINT;
alter table "trial_result" add column "sheet_struck" BIGINT;
alter table "trial_result" add column "sheet_differing" BIGINT;
alter table "trial_result" add column "sheet_shrinks_to" DOUBLE;
