-- grain: player_id, on_date. A day of which something came: a session (a rest day is one), answers, or a weekly form.
create or replace view sign_day as
select player_id, on_date from session_day
union
select player_id, on_date from report_day;
