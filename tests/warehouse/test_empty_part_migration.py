"""Corrected score cards and plans whose keys have an empty part stood twice; the newest stays, and taken back gives way again."""

from __future__ import annotations

import duckdb

from warehouse.migrate import migrations

NUMBER = 233
BEFORE = """
insert into "round" (player_id, played_on, round_no, strokes, file_id, line) values
  ('p1', '2026-03-14', null, 81, 'f1', 2), ('p1', '2026-03-15', null, 82, 'f1', 3), ('p1', '2026-03-14', 1, 70, 'f1', 4),
  ('p1', '2026-03-14', null, 79, 'f2', 2), ('p2', '2026-03-14', null, 90, 'f2', 3);
insert into plan (player_id, week_starting, group_name, swings_full, file_id, line) values
  ('p1', '2026-03-09', null, 80, 'f3', 2), (null, '2026-03-09', 'U16', 60, 'f3', 3),
  ('p1', '2026-03-09', null, 77, 'f4', 2), (null, '2026-03-09', 'U16', 55, 'f4', 3);
insert into file (file_id, name, kind, modified_at, received_at, bytes, n_rows, n_loaded, n_quarantined, n_ignored, n_warnings,
    status, kept_as, redacted, n_emptied)
select 'f' || n, 'x' || n, if(n < 3, 'rounds', 'plans'), timestamp '2026-03-20' + to_days(n::integer), now(), 1, 3, 3, 0, 0, 0,
    'loaded', '', false, 0 from range(1, 5) as numbers (n);
"""  # fmt: skip


def test_the_newest_rows_stay_and_the_others_are_noted_as_replaced() -> None:
    con = duckdb.connect()
    for script in migrations():
        if script.number == NUMBER:
            con.execute(BEFORE).fetchall()
        con.execute(script.sql).fetchall()
    rounds = 'select player_id, played_on::varchar, round_no, strokes from "round" order by all'
    assert con.execute(rounds).fetchall() == [
        ("p1", "2026-03-14", 1, 70),
        ("p1", "2026-03-14", None, 79),
        ("p1", "2026-03-15", None, 82),
        ("p2", "2026-03-14", None, 90),
    ]
    assert con.execute("select swings_full from plan order by 1").fetchall() == [(55,), (77,)]
    assert con.execute(
        "select kind, file_id, line, part, row_key, superseded_by from superseded_row order by all"
    ).fetchall() == [
        ("plans", "f3", 2, "p1|2026-03-09|", "p1|2026-03-09|", "f4"),
        ("plans", "f3", 3, "|2026-03-09|U16", "|2026-03-09|U16", "f4"),
        ("rounds", "f1", 2, "p1|2026-03-14|", "p1|2026-03-14|", "f2"),
    ]
    told = con.execute("select file_id, status, superseded_by from file order by 1").fetchall()
    assert told == [("f1", "loaded", None), ("f2", "loaded", None), ("f3", "superseded", "f4"), ("f4", "loaded", None)]
