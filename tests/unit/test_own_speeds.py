"""Files of few quantities: a speed in another unit, and an iron as fast as the driver, are asked about."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import polars as pl
import pytest

from pipelines.stages.intake.check import Known
from pipelines.stages.intake.own_speeds import clubs_named_wrongly, speeds_in_other_units
from pipelines.stages.intake.whole_file import looks_wrong
from reports.findings.problems import problem_text
from reports.words import LANGUAGES, words
from schemas.files import KINDS

N = 12
MPH, KMH = 0.44704, 1 / 3.6
"""By definition: a mile of 1609.344 m an hour, a kilometre an hour."""


def session(seed: int, club: str = "driver", middle: float = 27.0, n: int = N, player: str = "P1") -> pl.DataFrame:
    """What a radar on a stand reads: club speed and nothing else."""
    draw = np.random.default_rng(seed)
    empty = {name: pl.Series([None] * n, dtype=pl.Float64) for name in KINDS["shots"].names if name.endswith(
        ("_mps", "_deg", "_rpm", "_m", "_mm"))}  # fmt: skip
    return pl.DataFrame(empty | {"club_speed_mps": draw.normal(middle, 0.03 * middle, n)}).with_columns(
        pl.lit(player).alias("player_id"),
        pl.lit(f"S{seed}").alias("session_id"),
        pl.lit(club).alias("club"),
        pl.lit(0, dtype=pl.Int32).alias("file"),
        pl.lit(datetime(2026, 3, 14)).alias("struck_at"),  # noqa: DTZ001 - the warehouse keeps UTC without zone
    )


def _known(n_sessions: int = 5, middle: float = 27.0) -> Known:
    rows = [("P1", club, "club_speed_mps", m, 0.3, n_sessions) for club, m in (("driver", middle), ("7-iron", 0.8 * middle))]
    columns = ["player_id", "club", "quantity", "middle", "spread", "n_sessions"]
    return Known(None, None, usual=pl.DataFrame(rows, schema=columns, orient="row"))


def asked_about(shots: pl.DataFrame, known: Known) -> str:
    asked = looks_wrong(KINDS["shots"], shots.drop("file"), shots["file"], known).get(0, "")
    for language in LANGUAGES if asked else ():
        assert problem_text("found", "values_look_wrong", asked, words(language)).language == language
    return asked


@pytest.mark.parametrize(
    ("times", "known"),
    [
        (1 / MPH, _known()),  # miles an hour taken as m/s: 60 for a junior, within what a club can be swung at
        (1 / MPH, _known(1)),  # nobody has become so fast, however little is known
        (MPH, _known()),  # the mapping says mph, and the device was set to m/s
        (MPH / KMH, _known()),  # km/h taken as mph
        (KMH / MPH, _known()),
    ],
)
def test_a_speed_in_another_unit_is_asked_about(times: float, known: Known) -> None:
    asked = asked_about(session(1).with_columns(pl.col("club_speed_mps") * times), known)
    assert asked.startswith(f"club speed is {times:.1f}"[:-1])
    assert asked.endswith("with this club: is it in other units?")


@pytest.mark.parametrize(
    ("shots", "known"),
    [
        *((session(seed), _known()) for seed in range(20)),
        (session(1, middle=27 * 1.2), _known()),  # more than a season of speed work brings
        (session(1, middle=27 * 0.5), _known()),  # half swings
        (session(1, middle=27 * 0.75), _known()),
        (session(1, middle=27 * MPH), _known(2)),  # slow days, as long as little is known
        (session(1, n=4).with_columns(pl.col("club_speed_mps") / MPH), _known()),  # four swings are no day
        (session(1, player="P2", middle=53), _known()),
        (session(1, middle=53), Known(None, None)),
    ],
)
def test_a_players_own_speed_is_not(shots: pl.DataFrame, known: Known) -> None:
    assert asked_about(shots, known) == ""


def test_a_few_slow_or_fast_shots_do_not_hold_a_file() -> None:
    some = pl.concat([session(1), session(2, "7-iron", 27 * 0.8 / MPH, 6)])
    assert speeds_in_other_units(some, _known()) == {}
    most = pl.concat([session(1, n=5), session(2, "7-iron", 27 * 0.8 / MPH, 6)])
    assert list(speeds_in_other_units(most, _known())) == [0]


def test_a_driver_that_is_called_an_iron_is_asked_about() -> None:
    assert asked_about(session(1, "5-iron"), _known()) == (
        "the club 5-iron is swung as fast as this player's driver: is the club named rightly?"
    )
    assert asked_about(session(1, "5-iron", 27 * 0.85), _known()) == ""
    assert asked_about(session(1, "2-iron", 27 * 0.93), _known()) == ""
    assert asked_about(session(1, "3-wood", 27 * 0.99), _known()) == ""
    assert clubs_named_wrongly(session(1, "5-iron"), _known(2)) == {}, "two sessions are no level"


def _squad(middle: float, n_players: int = 8) -> Known:
    draw = np.random.default_rng(7)
    rows = [(f"Q{n}", "driver", "club_speed_mps", middle * draw.lognormal(0, 0.12), 0.3, 5) for n in range(n_players)]
    columns = ["player_id", "club", "quantity", "middle", "spread", "n_sessions"]
    return Known(None, None, usual=pl.DataFrame(rows, schema=columns, orient="row"))


def _aged(years: int) -> Known:
    return Known(None, None, born=pl.DataFrame({"player_id": ["P1"], "birth_year": [2026 - years]}))


@pytest.mark.parametrize(
    ("shots", "known", "told"),
    [
        (session(1, middle=26.8 / MPH), Known(None, None), "club speed with the driver is 60"),
        (session(1, "7-iron", 25 / MPH), Known(None, None), "club speed with the 7-iron is 56"),
        (session(1, middle=20 / MPH), _aged(9), "faster than players of 9 years swing it: is it in mph?"),
        (session(1, middle=20 / MPH), _aged(12), "faster than players of 12 years swing it: is it in mph?"),
        (session(1, middle=22 / MPH), _squad(25), "times what others here swing it at: is it in other units?"),
    ],
)
def test_a_speed_that_is_nobodys_is_asked_about_of_a_player_without_sessions(
    shots: pl.DataFrame, known: Known, told: str
) -> None:
    assert told in asked_about(shots, known)


@pytest.mark.parametrize(
    ("shots", "known"),
    [
        (session(1, middle=54), Known(None, None)),  # 121 mph: the fastest of a tour
        (session(1, middle=50), _aged(16)),
        (session(1, middle=36), _aged(10)),  # 80 mph
        (session(1, middle=22), _squad(45)),  # a child among men
        (session(1, middle=54), _squad(45)),
        (session(1, middle=35), _squad(25)),  # the trainer among children
        (session(1, middle=22 / MPH), _squad(25, 4)),  # four are no squad
        (session(1, middle=60), _known(1, 59)),  # who is so fast has been so before
    ],
)
def test_a_fast_or_slow_player_without_sessions_is_taken_in(shots: pl.DataFrame, known: Known) -> None:
    assert asked_about(shots, known) == ""
