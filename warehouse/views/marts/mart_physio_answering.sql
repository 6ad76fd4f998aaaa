-- grain: player_id. Whether a player who is still here answers, of players who agreed.
create or replace view mart_physio_answering as
select
  player_id,
  last_answer_on,
  silent_days,
  adherence,
  sleep_week_h
from agreed_answering
semi join present_player using (player_id);
