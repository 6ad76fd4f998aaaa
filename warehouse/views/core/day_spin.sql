-- grain: player_id, club, on_date. Median of the spins that were measured of a player's club on a day.
create or replace view day_spin as
select player_id, club, on_date, median(spin_rpm) as spin_rpm
from flown_shot
where spin_rpm is not null
group by player_id, club, on_date;
