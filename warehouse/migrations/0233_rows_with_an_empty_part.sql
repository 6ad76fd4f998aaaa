-- Score cards without a number and plans have keys with an empty part: what a newer file said of them stood beside what it was
-- to replace. The newest file's rows stay, as they do everywhere.
create temporary table "doubled" as
with "claim" as (
  select 'rounds' as "kind", "file_id", "line",
    "player_id" || '|' || cast("played_on" as varchar) || '|' || coalesce(cast("round_no" as varchar), '') as "part"
  from "round"
  union all
  select 'plans', "file_id", "line",
    coalesce("player_id", '') || '|' || cast("week_starting" as varchar) || '|' || coalesce("group_name", '')
  from "plan"
),
"ranked" as (
  select "claim".*, first_value("claim"."file_id") over (
    partition by "claim"."kind", "claim"."part"
    order by "file"."modified_at" desc, "file"."name" desc, "file"."received_at" desc, "claim"."file_id" desc
  ) as "newest"
  from "claim" join "file" using ("file_id")
)
select "kind", "file_id", "line", "part", "newest" from "ranked" where "file_id" <> "newest";

insert into "superseded_row" ("kind", "file_id", "line", "part", "row_key", "superseded_by")
select "kind", "file_id", "line", "part", "part", "newest" from "doubled";

delete from "round" where ("file_id", "line") in (select ("file_id", "line") from "doubled" where "kind" = 'rounds');
delete from "plan" where ("file_id", "line") in (select ("file_id", "line") from "doubled" where "kind" = 'plans');

update "file" set "status" = 'superseded', "superseded_by" = "told"."newest"
from (select "file_id", max("newest") as "newest" from "doubled" group by "file_id") as "told"
where "file"."file_id" = "told"."file_id" and "file"."status" = 'loaded'
  and not exists (select 1 from "round" where "round"."file_id" = "file"."file_id")
  and not exists (select 1 from "plan" where "plan"."file_id" = "file"."file_id");

drop table "doubled";
