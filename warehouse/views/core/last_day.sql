-- grain: one row. The day on which the last night's tables end, where nobody has a session that of the answers; null before either.
create or replace view last_day as
select
  coalesce(
    (select max(on_date) from load_day),
    (select max(last_answer_on + cast(silent_days as integer)) from answering)
  ) as on_date;
