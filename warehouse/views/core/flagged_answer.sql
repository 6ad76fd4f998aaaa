-- grain: player_id, on_date, item. Answers of players who have an open flag that their answers raised.
create or replace view flagged_answer as
select * from body_day
where player_id in (select player_id from flag where closed_on is null and kind in ('body_stiff', 'body_fatigue'));
