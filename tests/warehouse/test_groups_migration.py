"""Rows that were loaded before players had groups, and what stands about them in the ledger, are as they were."""

from __future__ import annotations

import duckdb
import polars as pl
import pytest

from schemas.files import KINDS
from warehouse.connection import frame
from warehouse.keys import row_key
from warehouse.migrate import migrations

FIRST_WITH_GROUPS = 170
BEFORE = """
insert into player values ('p1', 'Heron', 2011, 'male', 'right', '2024-03-04', null, '80', true, 158, 'f1', 2);
insert into session (session_id, player_id, started_at, kind, holes, file_id, line)
  values ('s1', 'p1', '2026-03-14 10:00', 'course', 18, 'f2', 2);
insert into "round" (player_id, played_on, round_no, strokes, file_id, line) values ('p1', '2026-03-14', 2, 81, 'f3', 2);
insert into plan values ('p1', '2026-03-16', 'base', 400, 40, 240, 'f4', 2);
insert into file (file_id, name, kind, modified_at, received_at, bytes, n_rows, n_loaded, n_quarantined, n_ignored, n_warnings,
    status, kept_as, redacted, n_emptied)
  values ('f4', 'plans.csv', 'plans', now(), now(), 1, 1, 1, 0, 0, 0, 'loaded', '', false, 0),
    ('f1', 'players.csv', 'players', now(), now(), 1, 1, 1, 0, 0, 0, 'loaded', '', false, 0);
insert into problem values
  ('f4', 3, 'minutes', 'x', 'not_a_number', '', '', 'emptied', 'p1|2026-03-23', false),
  ('f4', 4, '', '', 'ragged_row', '', '', 'error', '', false),
  ('f1', 3, 'sex', 'x', 'unknown_word', '', '', 'emptied', 'p2', false);
insert into superseded_row values
  ('plans', 'f0', 2, 'p1|2026-03-16', 'p1|2026-03-16', 'f4'), ('players', 'f0', 2, 'p1', 'p1', 'f1');
"""


@pytest.fixture
def old() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    for script in migrations():
        if script.number < FIRST_WITH_GROUPS:
            con.execute(script.sql).fetchall()
    con.execute(BEFORE).fetchall()
    return con


def _rows(con: duckdb.DuckDBPyConnection, table: str, names: list[str]) -> pl.DataFrame:
    return frame(con, f'select {", ".join(names)} from "{table}" order by all')


def test_rows_of_before_are_as_they_were_and_say_nothing_of_groups(old: duckdb.DuckDBPyConnection) -> None:
    tables = ("player", "session", "round", "plan")
    names = {table: frame(old, f'select * from "{table}" limit 0').columns for table in tables}
    before = {table: _rows(old, table, columns) for table, columns in names.items()}
    for script in migrations():
        if script.number >= FIRST_WITH_GROUPS:
            old.execute(script.sql).fetchall()
    assert {table: _rows(old, table, columns).rows() for table, columns in names.items()} == {
        table: rows.rows() for table, rows in before.items()
    }
    new = "select groups, p.course, s.course, r.course, event, event_round, group_name from player p, session s, round r, plan"
    assert old.execute(new).fetchall() == [(None,) * 7]


def test_what_the_ledger_knows_of_plans_is_found_by_their_longer_key(old: duckdb.DuckDBPyConnection) -> None:
    for script in migrations():
        if script.number >= FIRST_WITH_GROUPS:
            old.execute(script.sql).fetchall()
    now = frame(old, "select * from plan").select(row_key(KINDS["plans"].key))
    assert now.to_series().to_list() == ["p1|2026-03-16|"]
    keys = dict(old.execute("select line, row_key from problem where file_id = 'f4'").fetchall())
    assert keys == {3: "p1|2026-03-23|", 4: ""}
    assert old.execute("select row_key from problem where file_id = 'f1'").fetchall() == [("p2",)]
    replaced = old.execute("select kind, part, row_key from superseded_row order by kind").fetchall()
    assert replaced == [("plans", "p1|2026-03-16|", "p1|2026-03-16|"), ("players", "p1", "p1")]
