-- The end of a rise has a chance of its own; trend points are derived and written anew each night.

delete from "trend_point";
alter table "trend_point" drop column "p_half";
alter table "trend_point" add column "p_stall" double;
alter table "trend_point" alter column "p_stall" set not null;
