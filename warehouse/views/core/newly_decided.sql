-- grain: flag_id. What a decided flag is about, of decisions whose subject has not been kept yet: as the flag stands, else as it
-- was written beside the first decision. Without a player, a kind or a day nothing can be kept.
create or replace view newly_decided as
with first_decision as (
  select *
  from decision
  qualify row_number() over (partition by flag_id order by decided_on, role) = 1
)
select
  first_decision.flag_id,
  coalesce(flag.player_id, first_decision.player_id) as player_id,
  coalesce(flag.kind, first_decision.flag_kind) as kind,
  coalesce(flag.metric, '') as metric,
  coalesce(flag.region, first_decision.region, '') as region,
  coalesce(flag.audience, 'physio') as audience,
  coalesce(flag.raised_on, first_decision.raised_on) as raised_on,
  coalesce(flag.strength, 0) as strength
from first_decision
anti join decision_subject using (flag_id)
left join flag using (flag_id)
where coalesce(flag.player_id, first_decision.player_id) is not null
  and coalesce(flag.kind, first_decision.flag_kind) is not null
  and coalesce(flag.raised_on, first_decision.raised_on) is not null;
