-- What a month tells of transfer by itself, kept so that the swings of closed months are not read again.

create table "transfer_level" (
  "player_id"               VARCHAR not null,
  "club"                    VARCHAR not null,
  "club_group"              VARCHAR not null,
  "month_on"                DATE not null,
  "n_shots"                 BIGINT not null,
  "n_sessions"              BIGINT not null,
  "club_speed_mps"          DOUBLE not null,
  "club_speed_error_mps"    DOUBLE,
  "speed_ratio"             DOUBLE not null,
  "launch_deg"              DOUBLE not null,
  "spin_rpm"                DOUBLE,
  "carry_m"                 DOUBLE,
  "carry_error_m"           DOUBLE,
  "carry_pooled_m"          DOUBLE,
  "carry_bearman_harvey_m"  DOUBLE,
  "rigid_loss"              DOUBLE,
  "is_factor_known"         BOOLEAN not null,
  "device_id"               VARCHAR,
  "strike_n"                BIGINT not null,
  "strike_sessions"         BIGINT not null,
  "strike_loss_sum"         DOUBLE not null,
  "strike_xx"               DOUBLE not null,
  "strike_xy"               DOUBLE not null,
  "strike_yy"               DOUBLE not null
);
