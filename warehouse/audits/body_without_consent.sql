-- A row about the body of a player who has not agreed to its being kept.
select kind_row.table_name, kind_row.file_id, kind_row.line
from kind_row
left join player using (player_id)
where kind_row.is_body and not coalesce(player.health_consent, false);
