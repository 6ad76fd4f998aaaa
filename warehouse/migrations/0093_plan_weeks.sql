-- Planned weeks stand beside what was done in their own seven days, on whatever day of the week they begin.

create table "plan_week" (
  "player_id"               VARCHAR not null,
  "week_starting"           DATE not null,
  "n_days_known"            BIGINT not null,
  "planned_swings_full"     BIGINT,
  "planned_swings_speed"    BIGINT,
  "planned_minutes"         DOUBLE,
  "done_swings_full"        DOUBLE,
  "done_swings_full_effort" DOUBLE,
  "done_minutes"            DOUBLE
);

alter table "load_week" drop column "planned_swings_full";
alter table "load_week" drop column "planned_swings_speed";
alter table "load_week" drop column "planned_minutes";
alter table "load_week" drop column "done_share_swings_full";
alter table "load_week" drop column "done_share_swings_full_effort";
alter table "load_week" drop column "done_share_minutes";
