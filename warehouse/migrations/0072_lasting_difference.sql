-- Levels now against the first normal and against a year ago; derived, written anew each night.

create table "lasting_difference" (
  "player_id"   VARCHAR not null,
  "club_group"  VARCHAR not null,
  "metric"      VARCHAR not null,
  "against"     VARCHAR not null,
  "then_on"     DATE not null,
  "then_level"  DOUBLE not null,
  "now_on"      DATE not null,
  "now_level"   DOUBLE not null,
  "change"      DOUBLE not null,
  "change_low"  DOUBLE not null,
  "change_high" DOUBLE not null,
  "worthwhile"  DOUBLE not null,
  "lasts"       BOOLEAN not null
);
