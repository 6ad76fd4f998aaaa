-- Which shots of a session lost ball speed, and how far to a side they ended. Derived rows are written anew.

alter table "session_club" add column "speed_ratio_told_n" BIGINT;
alter table "session_club" add column "speed_ratio_lost" DOUBLE[];
alter table "session_club" add column "speed_ratio_lost_side" DOUBLE[];
