-- What the normal swings of a month tell before patterns are fitted: sessions in still air, and how wide each player's shots lie.

create table "still_session" (
  "player_id"            VARCHAR not null,
  "month_on"             DATE not null,
  "session_id"           VARCHAR not null,
  "club_group"           VARCHAR not null,
  "club"                 VARCHAR not null,
  "carry_m_n"            BIGINT not null,
  "carry_m_centre"       DOUBLE,
  "carry_m_spread"       DOUBLE,
  "carry_m_scatter_n"    BIGINT not null,
  "carry_m_log_mad"      DOUBLE,
  "offline_m_n"          BIGINT not null,
  "offline_m_centre"     DOUBLE,
  "offline_m_spread"     DOUBLE,
  "offline_m_scatter_n"  BIGINT not null,
  "offline_m_log_mad"    DOUBLE,
  "offline_m_wild_n"     BIGINT
);

create table "quartile_month" (
  "player_id"     VARCHAR not null,
  "club_group"    VARCHAR not null,
  "month_on"      DATE not null,
  "share"         DOUBLE,
  "deg"           DOUBLE,
  "n_shots"       BIGINT not null
);
