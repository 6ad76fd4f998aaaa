-- grain: player_id, club_group, metric, series, session_id. Points of trends that a player's record or an open flag shows.
create or replace view told_point as
select * from trend_point
where (metric = 'club_speed_mps' and club_group = 'driver')
  or (player_id, metric, club_group) in (select (player_id, metric, club_group) from flag where closed_on is null);
