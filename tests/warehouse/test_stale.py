"""What stands and what is stale: the mechanism on a stage of a few lines."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from pipelines.stages import stale
from pipelines.stages.stale import ASKED, Apart, Read, renew
from schemas.tables import Table, day, known, number
from warehouse.connection import frame
from warehouse.units import forget_units, shots_of_a_player

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

LONGEST = Table("longest", "", ("player_id",), (*known("player_id"), number("carry_m", "m", "")))


@dataclass
class Counting:
    """A stage that remembers of whom it was asked."""

    asked: list[str] = field(default_factory=list)

    def __call__(self, read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
        self.asked += read["shots"]["player_id"].unique().sort().to_list()
        return {"longest": read["shots"].group_by("player_id").agg(pl.col("carry_m").max())}


@pytest.fixture
def world(con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    con.execute("create table longest (player_id varchar, carry_m double)").fetchall()
    con.execute("create table struck (player_id varchar, on_date date, carry_m double)").fetchall()
    con.execute("insert into struck select 'p' || i % 3, date '2026-03-01', 200 + i from range(9) as t(i)").fetchall()
    return con


def stage(count: Counting, night: date = date(2026, 3, 9), rests_on: str = "") -> Apart:
    return Apart("longest", (LONGEST,), {"shots": Read("struck", ("carry_m",), ("on_date", night))}, count, rests_on)


def asked(con: duckdb.DuckDBPyConnection, apart: Apart) -> list[str]:
    count = apart.measure
    assert isinstance(count, Counting)
    count.asked.clear()
    renew(con, apart)
    return count.asked


def rows(con: duckdb.DuckDBPyConnection) -> list[tuple[object, ...]]:
    return frame(con, "select * from longest order by player_id").rows()


def test_only_the_player_whose_rows_changed_is_computed_anew(world: duckdb.DuckDBPyConnection) -> None:
    one = stage(Counting())
    assert asked(world, one) == ["p0", "p1", "p2"]
    assert rows(world) == [("p0", 206.0), ("p1", 207.0), ("p2", 208.0)]
    assert asked(world, one) == []
    world.execute("update struck set carry_m = 250 where carry_m = 204").fetchall()
    assert asked(world, one) == ["p1"]
    assert rows(world)[1] == ("p1", 250.0)
    world.execute("insert into struck values ('p2', date '2026-03-02', 199)").fetchall()
    assert asked(world, one) == ["p2"]


def test_where_all_stands_nothing_is_written(world: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch) -> None:
    one = stage(Counting())
    known = renew(world, one)
    with monkeypatch.context() as patch:
        patch.setattr(stale, "transaction", lambda _: 1 / 0)
        assert renew(world, one).sort("unit").equals(known.sort("unit"))
    world.execute("delete from struck where player_id = 'p2'").fetchall()
    assert asked(world, one) == []
    assert [row[0] for row in rows(world)] == ["p0", "p1"]


@pytest.mark.parametrize(
    ("shots_of_one", "players_read"), [(0.0, [3]), (3.0, [3]), (5.0, [2, 1]), (9.0, [1, 1, 1]), (1e6, [1, 1, 1])]
)
def test_of_those_who_strike_more_fewer_are_read_at_a_time(
    world: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch, shots_of_one: float, players_read: list[int]
) -> None:
    world.execute("alter table struck add column shot_no integer default 1").fetchall()
    monkeypatch.setattr(stale, "PLAYERS_AT_ONCE", 1)
    monkeypatch.setattr(stale, "SHOTS_READ_TOGETHER", 3 * stale.BLOCKS_READ_TOGETHER)
    monkeypatch.setattr(stale, "shots_of_a_player", lambda _: shots_of_one)
    seen, unit_rows = list[int](), stale.unit_rows

    def noted(*given: Any) -> pl.DataFrame:
        seen.append(given[2]["player_id"].n_unique())
        return unit_rows(*given)

    monkeypatch.setattr(stale, "unit_rows", noted)
    shots = Read("struck", ("carry_m", "shot_no"), ("on_date", date(2026, 3, 9)))
    assert asked(world, replace(stage(Counting()), reads={"shots": shots}, blocks_at_once=3)) == ["p0", "p1", "p2"]
    assert seen == players_read
    assert rows(world) == [("p0", 206.0), ("p1", 207.0), ("p2", 208.0)]


def test_shots_of_a_player_are_counted_of_those_who_strike(con: duckdb.DuckDBPyConnection) -> None:
    assert shots_of_a_player(con) == 0.0
    told = "timestamp '2026-03-02 10:00' as struck_at, 'driver' as club, true as counts, 'f' as file_id, 1 as line"
    struck = f"select 's' as session_id, 'p' || i % 2 as player_id, i as shot_no, {told} from range(9) as t(i)"
    con.execute(f"insert into shot by name {struck}").fetchall()
    assert shots_of_a_player(con) == 4.5


def test_a_row_of_a_later_day_makes_a_player_stale_when_its_day_has_come(world: duckdb.DuckDBPyConnection) -> None:
    count = Counting()
    asked(world, stage(count))
    world.execute("insert into struck values ('p0', date '2026-03-10', 300)").fetchall()
    assert asked(world, stage(count)) == []
    assert asked(world, stage(count, date(2026, 3, 10))) == ["p0"]
    assert asked(world, stage(count, date(2026, 3, 9))) == ["p0"], "a night of the past forgets it again"


def test_rows_of_a_player_who_is_gone_go_and_so_do_rows_that_nobody_knows(world: duckdb.DuckDBPyConnection) -> None:
    one = stage(Counting())
    asked(world, one)
    world.execute("delete from struck where player_id = 'p1'").fetchall()
    world.execute("insert into longest values ('nobody', 1)").fetchall()
    assert asked(world, one) == []
    assert [row[0] for row in rows(world)] == ["p0", "p2"]
    world.execute("insert into struck values ('p1', date '2026-03-02', 201)").fetchall()
    assert asked(world, one) == ["p1"], "one who comes back is computed, whatever stood before"


def test_other_settings_another_program_and_being_told_so_make_all_stale(
    world: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    count = Counting()
    asked(world, stage(count))
    assert asked(world, stage(count, rests_on="metres")) == ["p0", "p1", "p2"]
    forget_units(world)
    assert asked(world, stage(count, rests_on="metres")) == ["p0", "p1", "p2"]
    monkeypatch.setattr(stale, "computed_by", lambda: "another program")
    assert asked(world, stage(count, rests_on="metres")) == ["p0", "p1", "p2"]


def test_what_the_whole_squad_says_counts_where_it_is_joined_to_the_rows(world: duckdb.DuckDBPyConnection) -> None:
    count = Counting()

    def with_norm(norm_of_p2: float) -> Apart:
        norms = pl.DataFrame({"player_id": ["p0", "p1", "p2"], "norm": [1.0, 1.0, norm_of_p2]})
        return replace(stage(count), reads={**stage(count).reads, "norms": norms})

    asked(world, with_norm(1.0))
    assert asked(world, with_norm(1.0)) == []
    assert asked(world, with_norm(2.0)) == ["p2"]


def test_a_block_that_fails_leaves_whole_blocks_and_the_rest_stale(
    world: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stale, "PLAYERS_AT_ONCE", 1)
    count = Counting()
    broken = replace(stage(count), measure=lambda read: count(read) if len(count.asked) < 1 else 1 / 0)
    with pytest.raises(ZeroDivisionError):
        renew(world, broken)
    assert [row[0] for row in rows(world)] == ["p0"]
    assert asked(world, stage(count)) == ["p1", "p2"]
    assert [row[0] for row in rows(world)] == ["p0", "p1", "p2"]


def test_units_may_be_smaller_than_players(world: duckdb.DuckDBPyConnection) -> None:
    world.execute("insert into struck values ('p0', date '2026-03-02', 300)").fetchall()
    world.execute("alter table longest add column on_date date").fetchall()
    seen: list[tuple[object, ...]] = []

    def by_day(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
        seen.extend(read["shots"].select("player_id", "on_date").unique().rows())
        return {"longest": read["shots"].group_by("player_id", "on_date").agg(pl.col("carry_m").max())}

    table = replace(LONGEST, columns=(*LONGEST.columns, day("on_date", "")))
    one = replace(stage(Counting()), by=("player_id", "on_date"), measure=by_day, tables=(table,))
    renew(world, one)
    assert len(seen) == 4
    seen.clear()
    world.execute("update struck set carry_m = 301 where carry_m = 300").fetchall()
    renew(world, one)
    assert seen == [("p0", date(2026, 3, 2))]


def test_a_month_stands_unless_it_or_one_before_it_changed(world: duckdb.DuckDBPyConnection) -> None:
    """The measure sees all months of a player whose month is stale, and is told which of them are asked for."""
    world.execute("alter table longest add column held_on date").fetchall()
    world.execute("insert into struck select player_id, date '2026-04-05', 300 from struck group by player_id").fetchall()
    world.execute("insert into struck select player_id, date '2026-05-05', 100 from struck group by player_id").fetchall()
    world.execute("create view dated as select *, cast(date_trunc('month', on_date) as date) as month_on from struck").fetchall()
    seen: list[tuple[object, ...]] = []

    def so_far(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
        seen.extend(read[ASKED].sort("player_id", "month_on").rows())
        shots = read["shots"].sort("player_id", "on_date")
        longest = shots.with_columns(carry_m=pl.col("carry_m").cum_max().over("player_id"), held_on=pl.col("on_date"))
        return {"longest": longest.join(read[ASKED], on=["player_id", "month_on"], how="semi").unique(["player_id", "held_on"])}

    table = replace(LONGEST, columns=(*LONGEST.columns, day("held_on", "")))
    read = Read("dated", ("player_id", "on_date", "carry_m"), ("on_date", date(2026, 5, 31)))
    one = replace(
        stage(Counting()), by=("player_id", "month_on"), measure=so_far, tables=(table,), reads={"shots": read},
        days={"longest": "held_on"},
    )  # fmt: skip
    renew(world, one)
    assert len(seen) == 9
    seen.clear()
    world.execute("update longest set carry_m = -1 where held_on < date '2026-04-01'").fetchall()
    world.execute("update struck set carry_m = 301 where player_id = 'p1' and on_date = date '2026-04-05'").fetchall()
    renew(world, one)
    assert seen == [("p1", date(2026, 4, 1)), ("p1", date(2026, 5, 1))]
    assert frame(world, "select held_on, carry_m from longest where player_id = 'p1' order by 1").rows() == [
        (date(2026, 3, 1), -1.0), (date(2026, 4, 5), 301.0), (date(2026, 5, 5), 301.0)
    ], "the month before stands, whatever is in it"  # fmt: skip
    seen.clear()
    world.execute("delete from struck where player_id = 'p2' and on_date = date '2026-05-05'").fetchall()
    renew(world, one)
    assert seen == []
    assert frame(world, "select count(*) from longest where player_id = 'p2'").item() == 2
