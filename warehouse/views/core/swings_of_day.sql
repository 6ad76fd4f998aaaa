-- grain: player_id, on_date. Swings and minutes of a known day: sums over its sessions, unknown when one of them is unknown.
create or replace view swings_of_day as
select player_id, on_date, is_rest, n_sessions, swings_full, swings_all, swings_full_effort, minutes
from load_day
where is_known;
