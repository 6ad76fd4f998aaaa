-- A loaded file whose rows in quarantine are not the rows that its problems name.
with listed as (
  select file_id, count(distinct line) as n from problem where severity = 'error' group by all
)
select file.file_id, file.name, file.n_quarantined, coalesce(listed.n, 0) as n_listed
from file
left join listed using (file_id)
where file.status <> 'held' and file.n_quarantined <> coalesce(listed.n, 0);
