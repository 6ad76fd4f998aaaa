-- grain: player_id, code. Rules of thumb for young players that apply, without what is known from answers.
create or replace view mart_coach_youth_note as
select
  player_id,
  code,
  value,
  reference
from youth_note
where code <> 'short_sleep';
