-- grain: player_id. Whether a player can train, and whether the physio asks for a word; never why.
create or replace view mart_coach_availability as
with asked as (
  select distinct flag.player_id
  from flag
  left join decision_state using (flag_id)
  where flag.audience = 'physio' and flag.closed_on is null and flag.level = 'alert'
    and coalesce(decision_state.state, '') <> 'under_decision'
)
select
  availability.player_id,
  present_player.alias,
  availability.state,
  asked.player_id is not null as asks_for_talk
from availability
join present_player using (player_id)
left join asked using (player_id);
