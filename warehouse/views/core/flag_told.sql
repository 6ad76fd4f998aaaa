-- grain: flag_id. A flag with the player's name, the last decision about it, and whether that decision still holds.
-- A decision whose flag has another id since the data were corrected is found through decision_state.
create or replace view flag_told as
with decided as (
  select
    coalesce(decision_state.flag_id, decision.flag_id) as flag_id,
    decision.decision,
    decision.role,
    decision.until,
    decision.decided_on,
    decision_state.state
  from decision
  left join decision_state on decision_state.decided_flag_id = decision.flag_id
  qualify row_number() over (
    partition by coalesce(decision_state.flag_id, decision.flag_id) order by decision.decided_on desc, decision.role desc
  ) = 1
)
select
  flag.*,
  player.alias,
  decided.decision,
  decided.role as decided_role,
  decided.until as decided_until,
  decided.decided_on,
  decided.state as decision_state
from flag
left join player using (player_id)
left join decided using (flag_id);
