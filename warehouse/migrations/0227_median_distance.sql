-- Median of how far to a side of its middle the shots of a session ended. Derived rows are written anew.

alter table "session_club" add column "offline_m_mad" DOUBLE;
alter table "still_session" add column "offline_m_mad" DOUBLE;
