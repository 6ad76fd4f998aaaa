-- grain: file_id. A file that was dropped, what became of it, and what is still open about it.
create or replace view mart_file as
with open_problem as (
  select file_id, count(*) as n_open, min(rule) filter (where severity = 'held') as reason
  from problem
  where not closed and severity <> 'warning'
  group by file_id
),
replaced as (
  select file_id, count(*) as n_replaced from superseded_row group by file_id
)
select
  file.file_id, file.name, file.kind, file.mapping, file.modified_at, file.received_at, file.status,
  case when file.status = 'held' then coalesce(open_problem.reason, '') else '' end as reason,
  file.n_rows, file.n_loaded, file.n_quarantined, file.n_ignored, file.n_warnings,
  coalesce(replaced.n_replaced, 0) as n_replaced,
  coalesce(open_problem.n_open, 0) as n_open,
  coalesce(newer.name, '') as replaced_by
from file
left join open_problem using (file_id)
left join replaced using (file_id)
left join file as newer on newer.file_id = file.superseded_by;
