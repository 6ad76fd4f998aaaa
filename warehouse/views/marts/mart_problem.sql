-- grain: file_id, line, column, rule. A problem with its file; values of rows about the body, and of decisions, are not shown on pages.
create or replace view mart_problem as
select
  problem.file_id, file.name, file.kind, file.received_at, problem.line, problem."column",
  case when file.kind in ('checkins', 'problems', 'absences', 'mobility', 'decisions') and problem."column" <> 'player_id'
    then '' else problem.value end as value,
  problem.rule, problem.allowed, problem.hint, problem.severity, problem.closed,
  count(*) filter (where not problem.closed)
    over (partition by problem.file_id, problem.rule, problem."column", problem.severity) as n_alike
from problem
join file using (file_id);
