-- grain: player_id, on_date. Answers of a day, of a player who agreed to their being kept.
create or replace view agreed_checkin as
select checkin.* exclude (date), checkin.date as on_date
from checkin
join agreed_player using (player_id);
