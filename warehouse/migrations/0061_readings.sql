-- Bad cells that were emptied in rows that were loaded, and with what a file was read: its mapping and the settings that count.
alter table "file" add column "n_emptied" BIGINT;
alter table "file" add column "reading" VARCHAR;
