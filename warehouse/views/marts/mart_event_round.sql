-- grain: player_id, event, played_on, round_no. One round of an event, as the player's score card says.
create or replace view mart_event_round as
select player_id, event, played_on, round_no, event_round, course, holes, strokes, penalties
from "round"
where event is not null;
