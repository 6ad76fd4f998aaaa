-- A row about the body of a player who has not agreed to its being kept.
with body as (
  select 'checkin' as table_name, player_id, file_id, line from checkin
  union all select 'problem_report', player_id, file_id, line from problem_report
  union all select 'absence', player_id, file_id, line from absence
  union all select 'mobility', player_id, file_id, line from mobility
)
select body.table_name, body.file_id, body.line
from body
left join player using (player_id)
where not coalesce(player.health_consent, false);
