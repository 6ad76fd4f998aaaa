-- What the drives of a session tell of cold and tired balls, kept so that no ball is read twice for it.

create table "ball_sum" (
  "player_id"   VARCHAR not null,
  "session_id"  VARCHAR not null,
  "on_date"     DATE not null,
  "month_on"    DATE not null,
  "n_balls"     BIGINT not null,
  "n_counting"  BIGINT not null,
  "products"    DOUBLE[] not null,
  "means"       DOUBLE[]
);
