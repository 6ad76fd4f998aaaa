-- Wild shots of a session: those that end far to a side of its own middle.

alter table "session_club" add column "offline_m_wild_n" BIGINT;
