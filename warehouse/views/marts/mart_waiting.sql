-- grain: what. How many files are held whole (held) and how many problems wait (problem), of kinds that tell nothing of a body.
create or replace view mart_waiting as
with told as (
  select file_id, status from file where kind in ('players', 'sessions', 'shots', 'plans', 'trials', 'rounds')
),
waits as (
  select 'held' as what from told where status = 'held'
  union all
  select 'problem' from problem join told using (file_id) where not problem.closed and problem.severity in ('error', 'emptied')
)
select what, count(*) as n from waits group by what;
