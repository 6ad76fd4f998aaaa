-- A file whose loaded rows are neither in their table nor replaced by a newer file.
with live as (
  select 'players' as kind, file_id, count(*) as n from player group by all
  union all select 'sessions', file_id, count(*) from session group by all
  union all select 'trials', file_id, count(*) from trial group by all
  union all select 'shots', file_id, count(*) from shot group by all
  union all select 'checkins', file_id, count(*) from checkin group by all
  union all select 'problems', file_id, count(*) from problem_report group by all
  union all select 'absences', file_id, count(*) from absence group by all
  union all select 'plans', file_id, count(*) from plan group by all
  union all select 'mobility', file_id, count(*) from mobility group by all
  union all select 'rounds', file_id, count(*) from round group by all
  union all select 'decisions', file_id, count(*) from decision group by all
),
replaced as (
  select kind, file_id, count(*) as n from superseded_row group by all
)
select file.file_id, file.name, file.n_loaded, coalesce(live.n, 0) as n_live, coalesce(replaced.n, 0) as n_replaced
from file
left join live on live.file_id = file.file_id and live.kind = file.kind
left join replaced on replaced.file_id = file.file_id and replaced.kind = file.kind
where file.n_loaded <> coalesce(live.n, 0) + coalesce(replaced.n, 0);
