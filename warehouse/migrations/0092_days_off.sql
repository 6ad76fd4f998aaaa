-- A day without a row may count as a day off, when academy.toml says so; then it says so as well.

alter table "load_day" add column "is_assumed_off" BOOLEAN default false;
alter table "load_day" add column "days_assumed_28" BIGINT default 0;
