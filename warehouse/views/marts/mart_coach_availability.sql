-- grain: player_id. Whether a player can train, and whether the physio asks for a word; never why.
-- A physio's decision to ease, rest or refer asks for it; a flag about the body alone says nothing to a coach.
create or replace view mart_coach_availability as
with standing as (
  select flag_id
  from decision_state
  where role = 'physio' and state = 'under_decision' and decision in ('ease', 'rest', 'refer')
),
asked as (
  select distinct flag.player_id
  from flag
  where flag.audience = 'physio' and flag.closed_on is null and flag.flag_id in (select flag_id from standing)
)
select
  availability.player_id,
  present_player.alias,
  availability.state,
  asked.player_id is not null as asks_for_talk
from availability
join present_player using (player_id)
left join asked using (player_id);
