-- grain: player_id, week_ending, region. A weekly form, of a player who agreed to its being kept.
create or replace view agreed_problem_report as
select problem_report.*
from problem_report
join agreed_player using (player_id);
