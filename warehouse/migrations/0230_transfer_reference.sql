-- Until which month the months go with which transfer is compared. Derived rows are written anew.

alter table "transfer_month" add column "reference_to_on" DATE;
