-- What cold and tired balls take from a session's speeds; summaries are derived and written anew each night.

alter table "session_club" add column "within_pct" double;
