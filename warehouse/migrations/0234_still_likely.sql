-- How much of what an open notice called likely still is. Derived rows are written anew.

alter table "flag_now" add column "now_share" DOUBLE;
