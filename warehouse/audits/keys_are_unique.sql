-- A key that stands twice in a core table.
select 'player' as table_name, player_id as row_key from player group by all having count(*) > 1
union all select 'session', session_id from session group by all having count(*) > 1
union all select 'trial', trial_id from trial group by all having count(*) > 1
union all select 'shot', concat_ws('|', session_id, shot_no) from shot group by session_id, shot_no having count(*) > 1
union all select 'checkin', concat_ws('|', player_id, "date") from checkin group by player_id, "date" having count(*) > 1
union all select 'problem_report', concat_ws('|', player_id, week_ending, region) from problem_report group by player_id, week_ending, region having count(*) > 1
union all select 'absence', concat_ws('|', player_id, began_on, kind) from absence group by player_id, began_on, kind having count(*) > 1
union all select 'plan', concat_ws('|', player_id, week_starting) from plan group by player_id, week_starting having count(*) > 1
union all select 'mobility', concat_ws('|', player_id, "date", test, side) from mobility group by player_id, "date", test, side having count(*) > 1
union all select 'round', concat_ws('|', player_id, played_on) from round group by player_id, played_on having count(*) > 1
union all select 'decision', concat_ws('|', flag_id, decided_on, role) from decision group by flag_id, decided_on, role having count(*) > 1;
