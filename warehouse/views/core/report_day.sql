-- grain: player_id, on_date. A day on which a player said something of the body: answers, or a weekly form.
create or replace view report_day as
select player_id, date as on_date from checkin
union
select player_id, week_ending from problem_report;
