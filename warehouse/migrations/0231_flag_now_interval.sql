-- Between which values what an open flag would say today lies. Derived rows are written anew.

alter table "flag_now" add column "now_low" DOUBLE;
alter table "flag_now" add column "now_high" DOUBLE;
