-- A file whose loaded rows are neither in their table nor replaced by a newer file.
with live as (
  select kind, file_id, count(*) as n from kind_row group by all
),
replaced as (
  select kind, file_id, count(*) as n from superseded_row group by all
)
select file.file_id, file.name, file.n_loaded, coalesce(live.n, 0) as n_live, coalesce(replaced.n, 0) as n_replaced
from file
left join live on live.file_id = file.file_id and live.kind = file.kind
left join replaced on replaced.file_id = file.file_id and replaced.kind = file.kind
where file.n_loaded <> coalesce(live.n, 0) + coalesce(replaced.n, 0);
