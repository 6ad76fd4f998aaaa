-- A row whose file is not in the ledger.
with provenance as (
  select 'player' as table_name, file_id, line from player
  union all select 'session', file_id, line from session
  union all select 'trial', file_id, line from trial
  union all select 'shot', file_id, line from shot
  union all select 'checkin', file_id, line from checkin
  union all select 'problem_report', file_id, line from problem_report
  union all select 'absence', file_id, line from absence
  union all select 'plan', file_id, line from plan
  union all select 'mobility', file_id, line from mobility
  union all select 'round', file_id, line from round
)
select provenance.*
from provenance
anti join file using (file_id);
