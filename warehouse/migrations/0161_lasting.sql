-- What lasts holds strokes, load and stiffness too, with how much stands behind each level; derived, written anew each night.

drop table "lasting_difference";
create table "lasting_difference" (
  "player_id"   VARCHAR not null,
  "club_group"  VARCHAR not null,
  "metric"      VARCHAR not null,
  "against"     VARCHAR not null,
  "then_on"     DATE not null,
  "then_level"  DOUBLE,
  "now_on"      DATE not null,
  "now_level"   DOUBLE,
  "change"      DOUBLE not null,
  "change_low"  DOUBLE not null,
  "change_high" DOUBLE not null,
  "n_then"      BIGINT not null,
  "n_now"       BIGINT not null,
  "worthwhile"  DOUBLE not null,
  "lasts"       BOOLEAN not null
);

create table "body_lasting" (
  "player_id"   VARCHAR not null,
  "region"      VARCHAR not null,
  "against"     VARCHAR not null,
  "then_on"     DATE not null,
  "then_level"  DOUBLE not null,
  "now_on"      DATE not null,
  "now_level"   DOUBLE not null,
  "change"      DOUBLE not null,
  "change_low"  DOUBLE not null,
  "change_high" DOUBLE not null,
  "n_then"      BIGINT not null,
  "n_now"       BIGINT not null,
  "lasts"       BOOLEAN not null
);
