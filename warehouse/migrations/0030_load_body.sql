-- Load, body answers, problem forms, mobility and decisions. No secondary index: one would block later changes of a table.

create table "load_session" (
  "session_id"         VARCHAR not null,
  "player_id"          VARCHAR not null,
  "on_date"            DATE not null,
  "kind"               VARCHAR not null,
  "is_rest"            BOOLEAN not null,
  "swings_full"        BIGINT,
  "swings_part"        BIGINT,
  "swings_dry"         BIGINT,
  "swings_all"         BIGINT,
  "swings_full_effort" BIGINT,
  "holes"              BIGINT,
  "minutes"            DOUBLE,
  "effort"             DOUBLE,
  "effort_min"         DOUBLE
);

create table "load_day" (
  "player_id"                   VARCHAR not null,
  "on_date"                     DATE not null,
  "is_known"                    BOOLEAN not null,
  "is_rest"                     BOOLEAN not null,
  "n_sessions"                  BIGINT,
  "swings_full"                 BIGINT,
  "swings_part"                 BIGINT,
  "swings_dry"                  BIGINT,
  "swings_all"                  BIGINT,
  "swings_full_effort"          BIGINT,
  "holes"                       BIGINT,
  "minutes"                     DOUBLE,
  "effort_min"                  DOUBLE,
  "largest_session_swings"      BIGINT,
  "largest_session_full_effort" BIGINT,
  "hardest_effort"              DOUBLE,
  "week_swings"                 DOUBLE,
  "month_swings"                DOUBLE,
  "week_full_effort"            DOUBLE,
  "month_full_effort"           DOUBLE,
  "week_effort_min"             DOUBLE,
  "month_effort_min"            DOUBLE,
  "days_known_7"                BIGINT not null,
  "days_known_28"               BIGINT not null,
  "month_percentile"            DOUBLE,
  "acute_swings"                DOUBLE,
  "chronic_swings"              DOUBLE,
  "acute_effort_min"            DOUBLE,
  "chronic_effort_min"          DOUBLE,
  "is_provisional"              BOOLEAN,
  "largest_before_swings"       DOUBLE,
  "jump_swings"                 DOUBLE,
  "largest_before_full_effort"  DOUBLE,
  "jump_full_effort"            DOUBLE,
  "week_difference_swings"      DOUBLE,
  "week_change_swings"          DOUBLE,
  "usual_week_swings"           DOUBLE,
  "usual_week_full_effort"      DOUBLE,
  "usual_week_effort_min"       DOUBLE,
  "ratio_swings"                DOUBLE,
  "monotony"                    DOUBLE,
  "strain"                      DOUBLE,
  "days_since_easy"             BIGINT,
  "hard_days_in_a_row"          BIGINT,
  "days_since_swing_free"       BIGINT,
  "swing_days_in_a_row"         BIGINT
);

create table "load_week" (
  "player_id"                     VARCHAR not null,
  "week_starting"                 DATE not null,
  "n_days_known"                  BIGINT not null,
  "n_rest_days"                   BIGINT not null,
  "swings_full"                   BIGINT,
  "swings_part"                   BIGINT,
  "swings_dry"                    BIGINT,
  "swings_all"                    BIGINT,
  "swings_full_effort"            BIGINT,
  "holes"                         BIGINT,
  "minutes"                       DOUBLE,
  "effort_min"                    DOUBLE,
  "planned_swings_full"           BIGINT,
  "planned_swings_speed"          BIGINT,
  "planned_minutes"               DOUBLE,
  "done_share_swings_full"        DOUBLE,
  "done_share_swings_full_effort" DOUBLE,
  "done_share_minutes"            DOUBLE
);

create table "load_club_week" (
  "player_id"     VARCHAR not null,
  "week_starting" DATE not null,
  "club_group"    VARCHAR not null,
  "swings"        BIGINT not null
);

create table "youth_note" (
  "player_id" VARCHAR not null,
  "code"      VARCHAR not null,
  "value"     DOUBLE not null,
  "reference" DOUBLE not null
);

create table "body_day" (
  "player_id"     VARCHAR not null,
  "on_date"       DATE not null,
  "item"          VARCHAR not null,
  "region"        VARCHAR not null,
  "answer"        DOUBLE not null,
  "percentile"    DOUBLE,
  "normal"        DOUBLE,
  "normal_spread" DOUBLE,
  "n_normal"      BIGINT not null,
  "recent"        DOUBLE,
  "n_recent"      BIGINT,
  "score"         DOUBLE,
  "p_value"       DOUBLE,
  "reason"        VARCHAR not null
);

create table "body_week" (
  "player_id"     VARCHAR not null,
  "week_starting" DATE not null,
  "item"          VARCHAR not null,
  "region"        VARCHAR not null,
  "n_answers"     BIGINT not null,
  "mean_answer"   DOUBLE not null,
  "worst_answer"  DOUBLE not null,
  "normal"        DOUBLE,
  "n_days_above"  BIGINT not null
);

create table "answering" (
  "player_id"      VARCHAR not null,
  "last_answer_on" DATE,
  "silent_days"    BIGINT,
  "adherence"      DOUBLE,
  "sleep_week_h"   DOUBLE
);

create table "problem_week" (
  "player_id"      VARCHAR not null,
  "week_ending"    DATE not null,
  "region"         VARCHAR not null,
  "score"          BIGINT,
  "is_problem"     BOOLEAN,
  "is_substantial" BOOLEAN,
  "onset"          VARCHAR
);

create table "problem_case" (
  "player_id"        VARCHAR not null,
  "region"           VARCHAR not null,
  "began_on"         DATE not null,
  "last_on"          DATE not null,
  "n_weeks"          BIGINT not null,
  "cumulative_score" BIGINT,
  "worst_score"      BIGINT,
  "ever_substantial" BOOLEAN,
  "onset"            VARCHAR
);

create table "prevalence_week" (
  "week_ending"       DATE not null,
  "n_answered"        BIGINT not null,
  "n_any"             BIGINT not null,
  "n_substantial"     BIGINT not null,
  "share_any"         DOUBLE not null,
  "any_low"           DOUBLE not null,
  "any_high"          DOUBLE not null,
  "share_substantial" DOUBLE not null,
  "substantial_low"   DOUBLE not null,
  "substantial_high"  DOUBLE not null
);

create table "burden" (
  "slice_kind"     VARCHAR not null,
  "slice"          VARCHAR not null,
  "n"              BIGINT not null,
  "hours"          DOUBLE not null,
  "incidence"      DOUBLE not null,
  "incidence_low"  DOUBLE,
  "incidence_high" DOUBLE,
  "mean_days"      DOUBLE,
  "burden"         DOUBLE not null,
  "burden_low"     DOUBLE,
  "burden_high"    DOUBLE
);

create table "association" (
  "player_id" VARCHAR not null,
  "region"    VARCHAR not null,
  "total"     DOUBLE,
  "low"       DOUBLE,
  "high"      DOUBLE,
  "p_value"   DOUBLE,
  "n_pairs"   BIGINT not null,
  "n_players" BIGINT not null,
  "reason"    VARCHAR not null
);

create table "mobility_change" (
  "player_id"       VARCHAR not null,
  "date"            DATE not null,
  "test"            VARCHAR not null,
  "side"            VARCHAR not null,
  "value_deg"       DOUBLE not null,
  "since_first_deg" DOUBLE,
  "since_last_deg"  DOUBLE,
  "detectable_deg"  DOUBLE not null,
  "is_published"    BOOLEAN not null,
  "verdict"         VARCHAR
);

create table "availability" (
  "player_id" VARCHAR not null,
  "state"     VARCHAR not null
);

create table "decision_subject" (
  "flag_id"   VARCHAR not null,
  "player_id" VARCHAR not null,
  "kind"      VARCHAR not null,
  "metric"    VARCHAR not null,
  "region"    VARCHAR not null,
  "audience"  VARCHAR not null,
  "raised_on" DATE not null,
  "strength"  DOUBLE not null
);

create table "decision_state" (
  "flag_id"         VARCHAR not null,
  "decided_flag_id" VARCHAR not null,
  "player_id"       VARCHAR not null,
  "state"           VARCHAR not null,
  "role"            VARCHAR not null,
  "decision"        VARCHAR not null,
  "decided_on"      DATE not null,
  "until"           DATE,
  "note"            VARCHAR,
  "n_decisions"     BIGINT not null
);
