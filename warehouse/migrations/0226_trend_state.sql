-- States of trends at the end of closed months: the nights of a month go on from them.

create table "trend_state" (
  "player_id"     VARCHAR not null,
  "club_group"    VARCHAR not null,
  "club"          VARCHAR not null,
  "metric"        VARCHAR not null,
  "series"        VARCHAR not null,
  "month_on"      DATE not null,
  "n_sessions"    BIGINT not null,
  "leads_to"      BIGINT not null,
  "confirmed_at"  BIGINT not null,
  "state"         DOUBLE[] not null,
  "levels"        DOUBLE[] not null,
  "digest"        BIGINT not null
);
