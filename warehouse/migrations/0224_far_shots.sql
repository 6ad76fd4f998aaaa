-- How far to a side of its middle the outer shots of a session ended. Derived rows are written anew.

alter table "session_club" add column "offline_m_far" DOUBLE[];
alter table "still_session" add column "offline_m_far" DOUBLE[];
