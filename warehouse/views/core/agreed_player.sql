-- grain: player_id. A player who has agreed to reports about the body being kept; without a word on it, nobody has.
-- The intake drops the rows of others; whatever shows or measures a report asks here again.
create or replace view agreed_player as
select player_id
from player
where health_consent;
