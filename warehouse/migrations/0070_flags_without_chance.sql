-- A flag prints no chance that it is real: those that were printed were not calibrated.

alter table "flag_candidate" drop column "probability";
alter table "flag" drop column "probability";
alter table "flag_event" drop column "probability";
