-- grain: player_id, region, on_date. A night on which the rule on stiffness opens.
create or replace view opened_stiffness as
select player_id, region, on_date
from flag_candidate
where kind = 'body_stiff' and opens;
