-- What the derived tables and the site were last made from: one row, or none while they are being made.

create table "night_state" (
  "fingerprint" VARCHAR not null,
  "as_of"       DATE not null
);
