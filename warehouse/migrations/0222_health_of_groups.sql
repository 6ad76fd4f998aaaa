-- How many have a problem, what it has cost and what goes with what, of each group beside everybody; derived, written anew each night.

alter table "prevalence_week" add column "group_name" VARCHAR default '';
alter table "prevalence_week" alter column "group_name" set not null;
alter table "prevalence_week" alter column "group_name" drop default;

alter table "burden" add column "group_name" VARCHAR default '';
alter table "burden" alter column "group_name" set not null;
alter table "burden" alter column "group_name" drop default;

alter table "association" add column "group_name" VARCHAR default '';
alter table "association" alter column "group_name" set not null;
alter table "association" alter column "group_name" drop default;
