-- grain: player_id, first_on. Days in a row with swings at full effort.
create or replace view full_effort_run as
with numbered as (
  select
    player_id,
    on_date,
    on_date - cast(row_number() over (partition by player_id order by on_date) as integer) as run
  from load_day
  where swings_full_effort > 0
)
select player_id, min(on_date) as first_on, max(on_date) as last_on
from numbered
group by player_id, run;
