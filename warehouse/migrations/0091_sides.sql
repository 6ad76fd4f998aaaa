-- The anatomical side of each player's lead and trail regions: recomputed as a whole in every run.
create table "player_side" (
  "player_id"  VARCHAR not null,
  "lead_side"  VARCHAR,
  "trail_side" VARCHAR
);
