-- grain: player_id, on_date, what. What a player wrote beside an answer in the last four weeks, of players who agreed.
create or replace view mart_physio_note as
with written as (
  select player_id, date as on_date, 'checkin' as what, note from checkin where note <> ''
  union all
  select player_id, week_ending, 'form_' || region, note from problem_report where note <> ''
)
select player_id, on_date, what, note
from written
join agreed_player using (player_id)
where on_date > (select max(date) from checkin) - 28;
