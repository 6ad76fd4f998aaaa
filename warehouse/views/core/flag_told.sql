-- grain: flag_id. A flag with the player's name and the last decision about it.
create or replace view flag_told as
with decided as (
  select flag_id, decision, role, until, decided_on
  from decision
  qualify row_number() over (partition by flag_id order by decided_on desc, role) = 1
)
select
  flag.*,
  player.alias,
  decided.decision,
  decided.role as decided_role,
  decided.until as decided_until,
  decided.decided_on
from flag
left join player using (player_id)
left join decided using (flag_id);
