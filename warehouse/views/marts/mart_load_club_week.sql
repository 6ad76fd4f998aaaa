-- grain: player_id, week_starting, club_group. Recorded shots of a week by group of clubs, the last 26 weeks.
create or replace view mart_load_club_week as
select
  player_id,
  week_starting,
  club_group,
  swings
from load_club_week
where week_starting > (select max(week_starting) from load_club_week) - 182;
