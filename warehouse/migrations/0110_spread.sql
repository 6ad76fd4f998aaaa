-- Derived tables, recomputed as a whole in every run: spread within sessions, pooled, and where a trial would lead on the map.

-- Spread within the sessions of a month of one player with one group of clubs.
create table "month_spread" (
  "player_id"        VARCHAR not null,
  "club_group"       VARCHAR not null,
  "month_on"         DATE not null,
  "lateral_spread_m" DOUBLE,
  "depth_spread_m"   DOUBLE
);

-- Spread within the driver sessions of one player in the 28 days up to the last day.
create table "recent_spread" (
  "player_id"           VARCHAR not null,
  "n_shots_28"          BIGINT not null,
  "lateral_spread_28_m" DOUBLE
);

-- Where an arm of a technique trial would put the player on the trade-off map.
create table "tradeoff_proposal" (
  "player_id"        VARCHAR not null,
  "trial_id"         VARCHAR not null,
  "arm"              VARCHAR not null,
  "question"         VARCHAR not null,
  "n_shots"          BIGINT not null,
  "club_speed_mps"   DOUBLE,
  "direction_sd_deg" DOUBLE,
  "change_speed_mps" DOUBLE,
  "scatter_ratio"    DOUBLE
);
