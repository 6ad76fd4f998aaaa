"""Digests of views of shots, made session by session, change with every row of the view: whatever a shot or its session says."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import polars as pl
import pytest
from sqlglot import exp

from tests.warehouse.sql_examples import queries
from warehouse.connection import frame
from warehouse.units import OF_SHOTS, frame_digests, sessions_told, unit_rows, view_digests

if TYPE_CHECKING:
    import duckdb

NIGHT = date(2026, 3, 31)
VIEWS = ("own_swing", "normal_swing", "effort_swing", "flown_shot", "driver_ball", "comparable_shot")
MONTHS = ("player_id", "month_on")
_VALUES = {
    "VARCHAR": "'other'",
    "DOUBLE": "77.5",
    "BIGINT": "77",
    "BOOLEAN": "false",
    "TIMESTAMP": "timestamp '2026-02-03 11:00'",
}
_VALUES |= {"DATE": "date '2026-02-03'"}


@pytest.fixture
def world(con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    """Two sessions of a player in two months, three shots in each, and a restated carry of each shot."""
    con.execute("insert into academy values ('Hill', 'UTC')").fetchall()
    con.execute(
        "insert into session by name select 's' || i as session_id, 'p1' as player_id, 'range' as kind, "
        "timestamp '2026-02-20 10:00' + to_days(20 * i) as started_at, "
        "'d1' as device_id, 'range' as ball, 'f' as file_id, 2 as line from range(2) as t(i)"
    ).fetchall()
    con.execute(
        "insert into shot by name select session_id, player_id, i as shot_no, started_at as struck_at, 'driver' as club, "
        "45.0 as club_speed_mps, 'f' as file_id, i as line from session cross join range(1, 4) as t(i)"
    ).fetchall()
    con.execute(
        "insert into comparable_shot by name select session_id, player_id, shot_no, on_date, club, club_group, "
        "'anchored' as method, '' as reason, 200.0 + shot_no as carry_m, "
        "1.0 as ball_factor, 'none' as factor_source from flown_shot"
    ).fetchall()
    return con


def columns(con: duckdb.DuckDBPyConnection, table: str) -> list[tuple[str, str]]:
    """Columns of a table and how another value of each is written."""
    kinds = con.execute("select column_name, data_type from duckdb_columns() where table_name = ?", [table]).fetchall()
    named = {"session_id", "player_id", "shot_no"} | ({"on_date"} if table == "comparable_shot" else set())  # the session's day
    return [(name, _VALUES[kind]) for name, kind in kinds if name not in named]


def seen(con: duckdb.DuckDBPyConnection) -> dict[str, tuple[pl.DataFrame, list[tuple[object, ...]]]]:
    """Of each view its rows, and their digests by month."""
    found = {}
    for view in VIEWS:
        digests = view_digests(con, view, MONTHS, ("on_date", NIGHT), "on_date").sort(MONTHS).rows()
        found[view] = frame(con, f'select * from "{view}" order by session_id, shot_no'), digests
    return found


@pytest.mark.parametrize("table", ["shot", "session", "comparable_shot"])
def test_a_digest_changes_whenever_a_row_of_the_view_does(world: duckdb.DuckDBPyConnection, table: str) -> None:
    before, n_changed = seen(world), 0
    where = "where session_id = 's0'" + ("" if table == "session" else " and shot_no = 2")
    for name, value in columns(world, table):
        world.execute("begin")
        world.execute(f'update "{table}" set "{name}" = {value} {where}').fetchall()
        for view, (rows, digests) in seen(world).items():
            old_rows, old_digests = before[view]
            if not rows.equals(old_rows) or name == "started_at":
                n_changed += 1
                assert digests != old_digests, (view, name)
                assert digests[-1] == old_digests[-1], f"{name} of {view}: the other month stands"
        world.execute("rollback")
    assert n_changed > 10


@pytest.mark.parametrize(
    "change", ["update trial set normal_arm = 'wider'", "update club set club_group = 'putter' where club = 'driver'"]
)
def test_and_with_what_trials_and_clubs_say(world: duckdb.DuckDBPyConnection, change: str) -> None:
    world.execute("update shot set trial_id = 't1', arm = 'normal' where session_id = 's0' and shot_no = 2").fetchall()
    world.execute(
        "insert into trial by name select 't1' as trial_id, 'p1' as player_id, 'stance' as question, 'normal' as normal_arm, "
        "['normal', 'wider'] as arms, date '2026-02-01' as began_on, 'f' as file_id, 1 as line"
    ).fetchall()
    before = seen(world)
    world.execute(change).fetchall()
    changed = {view for view, (rows, _) in seen(world).items() if not rows.equals(before[view][0])}
    assert changed >= {"own_swing", "normal_swing"}
    assert all(digests != before[view][1] for view, (_, digests) in seen(world).items() if view in changed)


def grounds(view: str) -> tuple[set[str], set[str]]:
    """Tables that a view rests on, and the columns that it or a view below it takes from clubs and trials."""
    tables: set[str] = set()
    columns = {f"{one.table}.{one.name}" for one in queries()[view].tree.find_all(exp.Column) if one.table in {"club", "trial"}}
    for name in {one.name for one in queries()[view].tree.find_all(exp.Table)}:
        below = grounds(name) if name in queries() else ({name}, set[str]())
        tables, columns = tables | below[0], columns | below[1]
    return tables, columns


@pytest.mark.parametrize("view", sorted(OF_SHOTS))
def test_a_view_told_by_its_sessions_rests_on_nothing_else(view: str) -> None:
    tables, columns = grounds(view)
    assert tables <= {"shot", "session", "academy", "club", "trial"}
    assert columns <= {"club.club_group", "trial.normal_arm"}, "digest it in warehouse/units.py first"


def test_what_is_digested_once_for_all_stages_is_what_is_digested_for_one(world: duckdb.DuckDBPyConnection) -> None:
    def told() -> dict[tuple[str, tuple[str, ...]], list[tuple[object, ...]]]:
        units = (MONTHS, ("player_id",), ("player_id", "session_id"))
        return {
            (view, by): view_digests(world, view, by, ("on_date", NIGHT)).sort(by).rows() for view in OF_SHOTS for by in units
        }

    alone = told()
    with sessions_told(world):
        assert told() == alone
        world.execute("update shot set club_speed_mps = 50 where session_id = 's0'").fetchall()
        assert told() == alone, "within the block nothing is digested again"
    assert all(rows != alone[unit] for unit, rows in told().items())


def test_which_file_and_line_a_row_came_from_is_no_part_of_it(world: duckdb.DuckDBPyConnection) -> None:
    before = seen(world)
    world.execute("update shot set file_id = 'g', line = line + 10").fetchall()
    world.execute("update session set file_id = 'g', line = line + 10").fetchall()
    assert all(digests == before[view][1] for view, (_, digests) in seen(world).items())


def test_rows_of_months_are_those_and_no_other(world: duckdb.DuckDBPyConnection) -> None:
    for month, session in ((date(2026, 2, 1), "s0"), (date(2026, 3, 1), "s1")):
        units = pl.DataFrame({"player_id": ["p1"], "month_on": [month]})
        rows = unit_rows(world, "own_swing", units, ("on_date", NIGHT), ("session_id", "shot_no"), "on_date")
        assert rows["session_id"].to_list() == [session] * 3
    both = pl.DataFrame({"player_id": ["p1", "p1", "p2"], "month_on": [date(2026, 3, 1), date(2026, 2, 1), date(2026, 2, 1)]})
    rows = unit_rows(world, "own_swing", both, ("on_date", date(2026, 3, 1)), ("session_id", "shot_no"), "on_date")
    assert rows["session_id"].to_list() == ["s0"] * 3, "s1 lies after the last day"


def test_of_a_wide_view_what_is_asked_for_is_read(world: duckdb.DuckDBPyConnection) -> None:
    units, order = pl.DataFrame({"player_id": ["p1"]}), ("session_id", "shot_no")
    whole = unit_rows(world, "own_swing", units, ("on_date", NIGHT), order)
    some = unit_rows(world, "own_swing", units, ("on_date", NIGHT), order, columns=("player_id", "carry_m"))
    assert some.equals(whole.select("player_id", "carry_m")), "in the same order, which rests on columns that are not read"


FRAME = pl.DataFrame(
    {
        "player_id": ["p1", "p1", "p1", "p2"],
        "told": ["a", "b", None, "a"],
        "also": ["b", "a", "", "a"],
        "n": [1, 2, None, 1],
        "m": [2, 1, 0, 1],
        "speed": [44.5, None, 0.0, 44.5],
        "day": [NIGHT, None, NIGHT, NIGHT],
        "is_in": [True, None, False, True],
        "nothing": [None, None, None, None],
    }
)


def told_of(rows: pl.DataFrame) -> dict[str, str]:
    return dict(frame_digests(rows, ["player_id"]).iter_rows())


def test_a_digest_of_a_frame_tells_every_cell_and_no_order() -> None:
    before = told_of(FRAME)
    assert told_of(FRAME.reverse()) == before
    for name in FRAME.columns[1:-1]:
        for other in (FRAME[name][3], None, FRAME[name][1]):
            changed = FRAME.with_columns(pl.Series(name, [other, *FRAME[name].to_list()[1:]], dtype=FRAME.schema[name]))
            assert (told_of(changed)["p1"] == before["p1"]) is changed.equals(FRAME), (name, other)
            assert told_of(changed)["p2"] == before["p2"]
    swapped = FRAME.with_columns(told=pl.col("also"), also=pl.col("told"))
    assert told_of(swapped)["p1"] != before["p1"]
    assert told_of(FRAME.filter(pl.col("n").is_not_null()))["p1"] != before["p1"]
    assert told_of(pl.concat([FRAME, FRAME[:1]]))["p1"] != before["p1"]


def test_categories_are_told_by_their_texts() -> None:
    told = [pl.Series("told", ["z", "a", None, "z"], dtype=kind) for kind in (pl.String, pl.Categorical, pl.Enum(["a", "z"]))]
    assert len({str(sorted(told_of(FRAME.with_columns(one)).items())) for one in told}) == 1


def test_days_of_sessions_are_made_once_in_the_block_and_told_anew_behind_it(world: duckdb.DuckDBPyConnection) -> None:
    query = "select * from session_day order by session_id"
    before, struck = frame(world, query), frame(world, "select * from own_swing order by all")
    with sessions_told(world):
        assert frame(world, query).equals(before)
        assert frame(world, "select * from own_swing order by all").equals(struck)
        (told,) = world.execute("explain select on_date from own_swing").fetchall()
        assert '"temp".main.session_day' in told[1]
    world.execute("update academy set time_zone = 'Pacific/Auckland'").fetchall()
    world.execute("update session set started_at = timestamp '2026-02-20 22:30'").fetchall()
    assert frame(world, query)["on_date"].unique().to_list() == [date(2026, 2, 21)]
