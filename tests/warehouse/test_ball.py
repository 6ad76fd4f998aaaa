"""The ball's stages on part of the invented academy: tables filled, replay the same, the two stories found, pages drawn."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import polars as pl
import pytest
from markupsafe import escape

from pipelines.demo.cast import CAST
from pipelines.demo.squad import squad
from pipelines.stages.measure.ball_flags import measure_ball_flags
from pipelines.stages.measure.carry import measure_comparable_carry
from pipelines.stages.measure.patterns import measure_patterns
from pipelines.stages.measure.score_cards import measure_score_cards
from pipelines.stages.measure.strokes import measure_strokes
from pipelines.stages.measure.transfer import measure_transfer
from reports.findings.ball import worth_sentence
from reports.pages import tradeoff, transfer
from reports.pages.context import page_context
from reports.words import LANGUAGES
from schemas.academy import Academy
from schemas.core import core_tables
from schemas.core.ball import TABLES
from warehouse.connection import frame, insert_frame, open_warehouse
from warehouse.marts import Marts

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

    from warehouse.marts import Audience

LAST = date(2026, 9, 30)
ACADEMY = Academy(name="Test", time_zone="UTC", altitude_m=180.0, course="tree-lined", range_ball_factor={"unit-2": 0.945})
STAGES = (measure_comparable_carry, measure_patterns, measure_transfer, measure_strokes, measure_score_cards, measure_ball_flags)
PLAYERS = ("p02", "p15", "p16")


def core_rows(rows: pl.DataFrame, table: str) -> pl.DataFrame:
    """The columns of a core table, taken from what the invented academy writes into its files."""
    columns = []
    for column in core_tables()[table].columns:
        if column.name in rows.columns:
            values = rows[column.name]
            if column.kind == "instant":
                values = values.str.slice(0, 16).str.to_datetime("%Y-%m-%dT%H:%M").dt.cast_time_unit("us")
            columns.append(values.cast(column.polars_type))
    plain = pl.DataFrame(columns)
    return plain.with_columns(pl.lit("f").alias("file_id"), pl.int_range(2, plain.height + 2).alias("line"))


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    players = tuple(player for player in CAST if player.player_id in PLAYERS)
    everything = squad(players, 7)
    path: Path = tmp_path_factory.mktemp("ball") / "academy.duckdb"
    with open_warehouse(path) as con:
        con.execute("insert into academy values ('Test', 'UTC')").fetchall()
        people = pl.DataFrame([{"player_id": one.player_id, "alias": one.alias, "standard": one.standard} for one in players])
        insert_frame(con, "player", core_rows(people, "player"))
        insert_frame(con, "session", core_rows(everything.sessions, "session").unique("session_id", maintain_order=True))
        shots = core_rows(everything.shots, "shot").unique(["session_id", "shot_no"], maintain_order=True)
        insert_frame(con, "shot", shots)
        insert_frame(con, "round", core_rows(everything.rounds, "round"))
        run(con, LAST)
        yield con


def run(con: duckdb.DuckDBPyConnection, as_of: date) -> None:
    for stage in STAGES:
        stage(con, ACADEMY, as_of)


def said(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    return frame(con, "select * from flag_candidate order by kind, player_id, on_date")


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_table_is_filled_and_its_grain_is_unique(measured: duckdb.DuckDBPyConnection, table: object) -> None:
    rows = frame(measured, f'select * from "{table.name}"')  # type: ignore[attr-defined]
    assert rows.height > 0
    assert rows.select(table.grain).is_unique().all()  # type: ignore[attr-defined]
    floats = rows.select(pl.col(pl.Float64))
    assert not floats.select(pl.any_horizontal(pl.all().is_nan() | pl.all().is_infinite()).any()).item()


def test_each_shot_has_one_comparable_carry_with_a_method(measured: duckdb.DuckDBPyConnection) -> None:
    counted = frame(
        measured,
        "select count(*) as n, count(carry_m) as carried, count(distinct method) as methods from comparable_shot "
        "where method <> 'none'",
    ).row(0)
    assert counted[0] == counted[1]
    assert counted[2] == 2  # computed indoors, anchored outdoors
    silent = frame(measured, "select count(*) as n from comparable_shot where method = 'computed' and reason = ''")
    assert silent.item() == 0


def test_indoors_and_outdoors_are_on_one_level(measured: duckdb.DuckDBPyConnection) -> None:
    # the same players, winter indoors with premium balls and summer outdoors with range balls
    carried = frame(
        measured,
        "select indoors, avg(comparable_shot.carry_m / club_speed_mps) as worth from comparable_shot "
        "join shot_day using (session_id, shot_no) where shot_day.club = 'driver' and shot_day.counts "
        "and shot_day.session_kind = 'range' and shot_day.player_id = 'p02' group by indoors order by indoors",
    )
    outdoors, indoors = carried["worth"]
    assert outdoors == pytest.approx(indoors, rel=0.02)


def test_both_stories_of_the_ball_are_found(measured: duckdb.DuckDBPyConnection) -> None:
    opened = said(measured).filter("opens")
    lost = opened.filter(
        (pl.col("kind") == "transfer_loss") & (pl.col("player_id") == "p15") & (pl.col("on_date").dt.year() == 2026)
    )
    assert lost["on_date"].to_list()[0] == date(2026, 2, 28)
    assert "lost_strike" in lost["reasons"][0]
    cost = opened.filter(pl.col("kind") == "speed_cost")
    assert cost.filter(pl.col("on_date").dt.year() == 2026)["player_id"].unique().to_list() == ["p16"]
    first = cost.filter(pl.col("player_id") == "p16", pl.col("on_date").dt.year() == 2026)["on_date"].min()
    assert first is not None
    assert date(2026, 4, 30) <= first <= date(2026, 7, 31)  # a month end of the invented story, 6 April to 27 July


def test_one_gain_pays_in_the_open_and_costs_among_trees(measured: duckdb.DuckDBPyConnection) -> None:
    rows = frame(
        measured, "select course, change, chance_cost from stroke_month where player_id = 'p16' and month_on = '2026-09-01'"
    )
    found = {course: (change, chance) for course, change, chance in rows.iter_rows()}
    assert found["open"][1] < 0.1
    assert found["tree-lined"][1] > 0.99
    assert found["tree-lined"][0] > 1.0
    assert found["open"][0] < 0.0


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_squads_map_names_whose_gain_depends_on_the_course(measured: duckdb.DuckDBPyConnection, language: str) -> None:
    one = page_context(replace(ACADEMY, language=language), "coach", LAST)
    page = next(iter(tradeoff.pages(Marts(measured, "coach"), one)))
    assert page.path == "tradeoff.html"
    said_of = worth_sentence(_rows_of(measured, "p16"), one.numbers)
    assert "Bittern" in page.body
    assert escape(said_of) in page.body
    assert page.body.count("<figure") == 2
    assert list(tradeoff.pages(Marts(measured, "physio"), one)) == []


def _rows_of(con: duckdb.DuckDBPyConnection, player_id: str) -> list[dict[str, object]]:
    return frame(
        con,
        "select * from stroke_month where player_id = ? and month_on = '2026-09-01' and course in ('open', 'tree-lined') "
        "order by course",
        [player_id],
    ).to_dicts()


@pytest.mark.parametrize("audience", ["coach", "physio", "player"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_each_players_page_shows_both_courses_side_by_side(
    measured: duckdb.DuckDBPyConnection, audience: Audience, language: str
) -> None:
    one = page_context(replace(ACADEMY, language=language), audience, LAST)
    for player in Marts(measured, audience).by_player(list(PLAYERS)).values():
        cost = next(iter(tradeoff.player_sections(player, one)))
        lost = next(iter(transfer.player_sections(player, one)))
        assert (cost.order, lost.order) == (40, 34)
        assert cost.markup.count('data-kind="tradeoff"') == 2
        assert 'class="pair"' in cost.markup
        assert lost.markup.count('data-kind="transfer"') == 1
        assert not cost.body_shown


def test_nothing_measured_makes_no_map(tmp_path: Path) -> None:
    with open_warehouse(tmp_path / "empty.duckdb") as con:
        one = page_context(ACADEMY, "coach", LAST)
        page = next(iter(tradeoff.pages(Marts(con, "coach"), one)))
        assert page.lead == one.words("tradeoff.nobody")
        run(con, LAST)
        assert said(con).is_empty()


def test_a_night_of_the_past_comes_out_again(measured: duckdb.DuckDBPyConnection) -> None:
    now = said(measured)
    night = date(2026, 3, 31)
    run(measured, night)  # the last test of this module: the tables are those of that night from here on
    assert said(measured).equals(now.filter(pl.col("on_date") <= night))
