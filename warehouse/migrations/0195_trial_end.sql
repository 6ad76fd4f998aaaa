-- The end of a trial: its last day, and why it was ended.

create table "trial_ending" (
  "trial_id"   VARCHAR not null,
  "player_id"  VARCHAR not null,
  "question"   VARCHAR not null,
  "normal_arm" VARCHAR not null,
  "arms"       VARCHAR not null,
  "began_on"   DATE not null,
  "sheet"      VARCHAR,
  "ended_on"   DATE,
  "end_rule"   VARCHAR,
  "file_id"    VARCHAR not null,
  "line"       BIGINT not null
);
insert into "trial_ending" by name select * from "trial";
drop table "trial";
alter table "trial_ending" rename to "trial";

alter table "trial_result" add column "ended_on" DATE;
alter table "trial_result" add column "end_rule" VARCHAR;
