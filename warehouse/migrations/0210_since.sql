-- Days that somebody named as a change, and each session since a break or a change against the normal before.

create table "named_change" (
  "player_id"  VARCHAR not null,
  "changed_on" DATE not null,
  "kind"       VARCHAR not null,
  "file_id"    VARCHAR not null,
  "line"       BIGINT not null
);

create table "session_since" (
  "player_id"     VARCHAR not null,
  "since_on"      DATE not null,
  "club_group"    VARCHAR not null,
  "metric"        VARCHAR not null,
  "n_since"       BIGINT not null,
  "cause"         VARCHAR not null,
  "until_on"      DATE not null,
  "session_id"    VARCHAR,
  "on_date"       DATE,
  "value"         DOUBLE,
  "n_before"      BIGINT not null,
  "normal"        DOUBLE,
  "n_level"       BIGINT not null,
  "level"         DOUBLE,
  "change"        DOUBLE,
  "change_low"    DOUBLE,
  "change_high"   DOUBLE,
  "worthwhile"    DOUBLE not null,
  "within"        DOUBLE,
  "state"         VARCHAR,
  "reason"        VARCHAR not null,
  "first_back_on" DATE
);
