-- What newer files replaced, and what players said about the keeping of body reports.

-- One row that a newer file replaced: its keys only; its values are in the archived original.
create table "superseded_row" (
  "kind"          VARCHAR not null,
  "file_id"       VARCHAR not null,
  "line"          BIGINT not null,
  "part"          VARCHAR not null,
  "row_key"       VARCHAR not null,
  "superseded_by" VARCHAR not null
);

-- One statement of a players file: an empty cell says nothing and is not here.
create table "consent" (
  "player_id" VARCHAR not null,
  "file_id"   VARCHAR not null,
  "stated_at" TIMESTAMP not null,
  "agreed"    BOOLEAN not null
);
