-- What was estimated of the squad at fixed moments, by digest of its inputs.

create table "squad_estimate" (
  "inputs"  VARCHAR not null,
  "made_by" VARCHAR not null,
  "found"   VARCHAR not null
);
