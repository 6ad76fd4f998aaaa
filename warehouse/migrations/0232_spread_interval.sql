-- Between which values the spread of the last 28 days lies. Derived rows are written anew.

alter table "recent_spread" add column "lateral_spread_low_m" DOUBLE;
alter table "recent_spread" add column "lateral_spread_high_m" DOUBLE;
