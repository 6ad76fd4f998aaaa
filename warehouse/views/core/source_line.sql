-- grain: what, player_id, source, detail, device_id, file_id. Where the rows behind a source of a flag were read: file and lines.
-- A source is a session's id, or checkin:, plan: or problem: with a day; shots are told by session and club.
create or replace view source_line as
with lines as (
  select
    'session' as what, player_id, session_id as source, on_date, kind as detail, device_id, '' as club_group, file_id,
    line as first_line, line as last_line, 1 as n_rows
  from session_day
  union all
  select
    'shots', player_id, session_id, on_date, club, device_id, club_group, file_id, min(line), max(line), count(*)
  from shot_day
  group by player_id, session_id, on_date, club, device_id, club_group, file_id
  union all
  select 'checkin', player_id, 'checkin:' || date, date, 'answers', null, '', file_id, line, line, 1
  from checkin
  union all
  select 'plan', player_id, 'plan:' || week_starting, week_starting, coalesce(phase, ''), null, '', file_id, line, line, 1
  from player_plan
  union all
  select 'problem', player_id, 'problem:' || week_ending, week_ending, region, null, '', file_id, line, line, 1
  from problem_report
)
select lines.*, file.name as file_name
from lines
left join file using (file_id);
