"""The worked examples of the methods page: numbers that a reader can check, and for nobody who may not read them."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from reports.findings.worked import body_example, carry_example, jump_example, level_example, normal_example, strokes_example
from reports.numbers import Numbers
from reports.pages.worked import RECENT_DAYS, recent_rows
from reports.words import words
from schemas.academy import ReferenceAir, Units
from warehouse.marts import Marts

if TYPE_CHECKING:
    import duckdb

    from tests.report.conftest import Built

NUMBERS = Numbers(words("en"), Units("mph", "yd"))
GERMAN = Numbers(words("de"), Units("km/h", "m"))
DAY = dt.date(2026, 3, 14)
SPEED: dict[str, Any] = {
    "alias": "Siskin",
    "on_date": DAY,
    "n": 14,
    "value": 46.9,
    "level": 46.5,
    "level_low": 46.1,
    "level_high": 46.9,
    "change_28": 1.5,
    "change_28_low": 0.6,
    "change_28_high": 2.4,
    "worthwhile": 1.5,
    "usual": 46.0,
    "usual_sd": 1.0,
    "usual_n": 79,
}


def plain(text: str) -> str:
    return text.replace("\N{NARROW NO-BREAK SPACE}", " ")


def test_the_parts_of_the_strokes_add_up() -> None:
    parts = {"clean": 63.70, "rough": 0.57, "trees": 1.46, "water": 0.09, "out_of_bounds": 0.17}
    row = {f"{name}_per_round": value for name, value in parts.items()}
    whole = row | {"alias": "Siskin", "month_on": dt.date(2026, 3, 1), "course": "Alder Wood", "n_shots": 66,
                   "per_round": sum(parts.values()), "per_round_low": 65.2, "per_round_high": 66.8}  # fmt: skip
    assert plain(strokes_example(whole, NUMBERS)) == (
        "Siskin, March 2026, Alder Wood: 63.70 strokes a round if every drive found the fairway, and 0.57 more for rough, 1.46 "
        "for trees, 0.09 for water and 0.17 for out of bounds, together 65.99 (90 % interval 65.2 to 66.8; 66 drives)."
    )


def test_a_week_against_the_four_before() -> None:
    row = {"alias": "Siskin", "on_date": DAY, "week_swings": 300.0, "usual_week_swings": 200.0}
    assert plain(jump_example(row, NUMBERS)) == (
        "Siskin, 7 days to 14 Mar 2026: 300 swings; the mean week of the four before has 200. 300 / 200 less 1 is +50 %."
    )


@pytest.mark.parametrize(("value", "where"), [(46.9, "lies outside"), (46.7, "lies inside")])
def test_the_own_normal_and_its_reach(value: float, where: str) -> None:
    """By hand: 46 m/s is 102.9 mph; 1.645 per cent of it 1.69, so 101.2 to 104.6; 46.9 m/s is 104.9."""
    told = plain(normal_example(SPEED | {"value": value}, NUMBERS))
    assert told.startswith(
        "Siskin, 14 Mar 2026: from 79 sessions the own normal is 102.9 mph, with a standard deviation of 1.0 % from one "
        "session to the next."
    )
    assert "101.2 to 104.6" in told
    assert where in told


def test_a_level_with_its_change() -> None:
    assert plain(level_example(SPEED, NUMBERS)) == (
        "Siskin, 14 Mar 2026: the middle of 14 driver shots is 104.9 mph. With all sessions before it the level is 104.0 mph "
        "(90 % interval 103.1 to 104.9), +1.5 % in 28 days (+0.6 % to +2.4 %); less than 1.5 % is not called a change."
    )


def test_a_carry_as_measured_and_restated() -> None:
    row = {"alias": "Siskin", "on_date": DAY, "n": 20, "carry_m": 200.0, "value": 205.0}
    assert plain(carry_example(row, ReferenceAir(), NUMBERS)) == (
        "Siskin, 14 Mar 2026: the 20 drives that count carried 219 yd in the middle, as measured. Restated to 15 °C, 1013 hPa "
        "and no wind, and freed of what the device reads high or low, they carried 224 yd: +5."
    )
    assert carry_example(row, ReferenceAir(), GERMAN).endswith("+5,0.")


def test_answers_on_a_region_against_the_own_normal() -> None:
    body = {"alias": "Siskin", "on_date": DAY, "region": "lower_back", "recent": 4.5, "n_recent": 8, "normal": 1.6,
            "n_normal": 76, "normal_spread": 0.85, "score": 6.2}  # fmt: skip
    assert plain(body_example(body, NUMBERS)) == (
        "Siskin, lower back, 14 Mar 2026: the last 8 answers have a mean of 4.5 of 10; the own normal is 1.6 from 76 earlier "
        "answers, with a spread of 0.85. That is +2.9, or 6.2 times what luck moves a mean of so many answers, since days "
        "resemble the day before."
    )


def test_examples_stand_where_named_players_may_be_read_and_nowhere_else(built: Built) -> None:
    coach, players = built.text("coach/methods.html"), built.text("players/methods.html")
    assert '<p class="worked">' in coach
    assert "worked" not in players
    assert "Fitted." in players


@pytest.mark.parametrize(("ago", "n_reads"), [(0, 1), (31, 1), (32, 2), (400, 2)])
def test_of_recent_rows_late_ones_are_read_first_and_all_where_they_do_not_tell(
    con: duckdb.DuckDBPyConnection, ago: int, n_reads: int
) -> None:
    marts, asked = Marts(con, "coach"), list[dt.date | None]()
    newest = max(marts.rows("mart_player")["last_session_on"].drop_nulls().to_list()) - dt.timedelta(days=ago)
    every = pl.DataFrame({"on_date": [newest - dt.timedelta(days=back) for back in range(400)]})

    def read(since: dt.date | None) -> pl.DataFrame:
        asked.append(since)
        return every if since is None else every.filter(pl.col("on_date") >= since)

    assert recent_rows(marts, read).equals(every.head(RECENT_DAYS))
    assert len(asked) == n_reads


def test_rows_from_a_day_on_are_those_of_all(con: duckdb.DuckDBPyConnection) -> None:
    marts = Marts(con, "coach")
    for mart, values in (("mart_trend", {"metric": "club_speed_mps", "club_group": "driver"}), ("mart_session_since", {})):
        whole = marts.rows(mart).filter(**values) if values else marts.rows(mart)
        since = whole["on_date"].sort()[whole.height // 2] if whole.height else DAY
        assert marts.part(mart, since=since, **values).equals(whole.filter(pl.col("on_date") >= since))
        assert marts.part(mart, since=None, **values).equals(whole)
