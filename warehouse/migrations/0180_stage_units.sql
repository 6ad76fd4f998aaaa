-- From what the rows of a player, a month or a session were computed, stage by stage.

create table "stage_unit" (
  "stage"  VARCHAR not null,
  "unit"   VARCHAR not null,
  "digest" BIGINT not null
);
