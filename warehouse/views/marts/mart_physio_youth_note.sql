-- grain: player_id, code. Rules of thumb for young players that apply.
create or replace view mart_physio_youth_note as
select
  player_id,
  code,
  value,
  reference
from youth_note;
