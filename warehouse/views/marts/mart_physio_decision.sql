-- grain: player_id, decided_on, role, flag_id. Every decision about a flag on load or body, with what the flag was about.
create or replace view mart_physio_decision as
select
  decision_subject.player_id,
  decision.decided_on,
  decision.role,
  decision.flag_id,
  decision_subject.kind,
  decision_subject.region,
  decision_subject.raised_on,
  decision.decision,
  decision.until,
  decision.note,
  decision_state.state
from decision
join decision_subject using (flag_id)
left join decision_state on decision_state.decided_flag_id = decision.flag_id and decision_state.decided_on = decision.decided_on
where decision_subject.audience in ('physio', 'both');
