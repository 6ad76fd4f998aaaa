-- grain: player_id, place. A group of a player, by its place in the players file's list; since and until which day, null without end.
create or replace view player_group as
with listed as (
  select
    player_id,
    unnest(string_split(groups, ';')) as told,
    generate_subscripts(string_split(groups, ';'), 1) as place
  from player
)
select
  player_id,
  place,
  trim(string_split(told, '(')[1]) as group_name,
  try_cast(regexp_extract(told, '\(from (\S{10})', 1) as date) as from_on,
  try_cast(regexp_extract(told, 'until (\S{10})\)', 1) as date) as until_on
from listed
where trim(told) <> '';
