"""One row of a chart, changed in one place at a time, against what the rules of charts say of it."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import polars as pl
import pytest
from scipy import stats

from pipelines.measures.flags.chart_rules import chart_candidates, players_judged, stall_candidates

DAY = dt.date(2026, 3, 2)
HALF = 1.0
Z = stats.norm.isf(0.05)
SHARP = {"level_error": 0.05, "usual_n": 400}
"""A level and a normal that are known so well that most of a small change is real."""


@pytest.fixture(autouse=True)
def _sums_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """The steep sums have no share here: what both say together stands in test_looks.py."""
    monkeypatch.setattr("pipelines.measures.flags.looks.STEEP_SHARE", (0.0, 0.0))


def point(**values: Any) -> dict[str, Any]:
    """A session of club speed [% above 1 m/s, logarithmic] that lies 3 % below the normal, beyond doubt."""
    return {
        "metric": "club_speed_mps", "player_id": "p1", "club_group": "driver", "club": "driver", "series": 0, "session_id": "s1",
        "on_date": DAY, "device_id": "bay-1", "level": 377.0, "usual": 380.0, "level_half": HALF, "worthwhile": 0.8,
        "usual_n": 20, "usual_sd": 1.0, "level_error": HALF / Z,
        "chart_up": 0.1, "chart_down": 7.256, "p_chart_up": 0.9, "p_chart_down": 0.0001,
        "p_steep_up": 1.0, "p_steep_down": 1.0, "growth": 0.0, "ended": "", "episode": 0,
        "p_stall": 1.0, "stall_slope": 0.42 * math.sqrt(2.0),
        "change_28": -1.237, "season_sine": 0.0, "season_cosine": 0.0, "x": 377.0, "variance": 1.0,
    } | values  # fmt: skip


def frame(rows: tuple[dict[str, Any], ...]) -> pl.DataFrame:
    return pl.DataFrame(
        rows, schema_overrides={"usual": pl.Float64, "growth": pl.Float64, "stall_slope": pl.Float64}, infer_schema_length=None
    )


def said(*rows: dict[str, Any], kind: str = "speed_fall") -> list[dict[str, Any]]:
    return chart_candidates(frame(rows), players_judged(frame(rows))).filter(pl.col("kind") == kind).to_dicts()


def test_each_column_of_a_fall() -> None:
    assert said(point()) == [
        {
            "player_id": "p1", "on_date": DAY, "kind": "speed_fall", "metric": "club_speed_mps", "region": "",
            "club_group": "driver",
            "device_id": "bay-1", "opens": True, "holds": True, "certain": False, "p_value": 0.0001, "n_streams": 1,
            "n_players": 1,
            "strength": pytest.approx(4.0), "value": pytest.approx(math.exp(3.77)), "baseline": pytest.approx(math.exp(3.8)),
            "low": pytest.approx(math.exp(3.76)), "high": pytest.approx(math.exp(3.78)), "n": 20,
            "reasons": [
                "chart=7.26", "beyond_usual=-3.0", "worthwhile=0.8", "likely=-2.79", "retest=2", "chance=0.0001",
            ], "sources": ["s1"],
        }
    ]  # fmt: skip
    assert said(point(), kind="speed_rise") == []
    rise = point(level=383.0, p_chart_up=0.0002, p_chart_down=0.5, ended="back")
    assert said(rise, kind="speed_rise")[0]["reasons"] == [
        "chart=0.1", "beyond_usual=3.0", "worthwhile=0.8", "likely=2.79", "retest=2", "chance=0.0002", "closed:not_clear",
    ]  # fmt: skip


def test_a_middle_may_move_to_either_side_which_counts_twice() -> None:
    told = {"level": 1.5, "usual": 0.5, "level_half": 0.2, "level_error": 0.2 / Z, "worthwhile": 0.3}
    aim = point(metric="aim_deg", p_chart_up=0.0003, p_chart_down=0.4, **told)
    row = said(aim, kind="aim_shift")[0]
    assert (row["p_value"], row["value"], row["baseline"]) == (0.0006, 1.5, 0.5)
    assert (row["low"], row["high"]) == (pytest.approx(1.3), pytest.approx(1.7))
    assert [row["reasons"][at] for at in (0, 1, 2, -1)] == ["chart=0.1", "beyond_usual=1.0", "worthwhile=0.3", "chance=0.0006"]
    other = said(aim | {"p_chart_up": 0.4, "p_chart_down": 0.0003, "level": -0.5}, kind="aim_shift")[0]
    assert (other["opens"], other["reasons"][:2]) == (True, ["chart=7.26", "beyond_usual=-1.0"])
    assert said(aim | {"p_chart_up": 0.6, "p_chart_down": 0.7, "episode": 1}, kind="aim_shift")[0]["p_value"] == 1.0


def surely(probability: float, worth: float) -> float:
    """How far beyond the normal a level lies that is so surely farther than that."""
    return worth * 0.8 + stats.norm.isf(1.0 - probability) * HALF / Z


@pytest.mark.parametrize(
    ("values", "opens", "holds", "p_value"),
    [
        ({"p_chart_down": 0.004}, True, True, 0.004),
        ({"p_chart_down": 0.0041}, False, True, 0.0041),
        ({"p_chart_down": 0.02}, False, True, 0.02),
        ({"p_chart_down": 0.021}, False, False, 0.021),
        ({"p_chart_down": 0.021, "episode": -1}, False, True, 0.021),
        ({"p_chart_down": 0.021, "episode": 1}, False, False, 0.021),
        ({"p_chart_down": 0.199}, False, False, 0.199),
        ({"level": 379.59, **SHARP}, True, True, 0.2),  # half of what is worth while: a notice, no alert
        ({"level": 379.61, **SHARP}, False, True, 0.2),
        ({"level": 379.59}, False, True, 0.2),  # as much, of which next to nothing is likely to be real
        ({"level": 380.0 - surely(0.91, 0.75)}, True, True, 0.0001),
        ({"level": 380.0 - surely(0.89, 0.75)}, True, True, 0.2),
        ({"level": 380.0 - surely(0.91, 0.75), "growth": 0.1}, True, True, 0.2),  # of one who grows 2 % more is asked
        ({"level": 378.0 - surely(0.91, 0.75), "growth": 0.1}, True, True, 0.0001),
        ({"ended": "lasting"}, False, False, 0.0001),  # opened and closed at once it would stay open
        ({"usual": None}, False, True, 0.2),
    ],
)
def test_where_a_fall_opens_holds_and_counts(values: dict[str, Any], opens: bool, holds: bool, p_value: float) -> None:
    row = said(point(**values))[0]
    assert (row["opens"], row["holds"], row["p_value"]) == (opens, holds, pytest.approx(p_value))


@pytest.mark.parametrize(
    ("kind", "metric", "sign", "chance", "worth", "sure"),
    [
        ("speed_rise", "club_speed_mps", 1, 0.002, 1.0, 0.95),
        ("scatter_rise", "scatter_side_m", 1, 0.004, 2.25, 0.85),
        ("scatter_fall", "scatter_long_m", -1, 0.004, 2.25, 0.85),
        ("aim_shift", "aim_deg", -1, 0.002, 1.0, 0.95),
    ],
)
def test_what_each_rule_asks_for(kind: str, metric: str, sign: int, chance: float, worth: float, sure: float) -> None:
    side, other = ("up", "down") if sign > 0 else ("down", "up")
    for times, opens in ((1.0, True), (1.01, False)):
        row = point(metric=metric, level=380.0 + sign * 9.0, **{f"p_chart_{side}": times * chance, f"p_chart_{other}": 0.9})
        assert said(row, kind=kind)[0]["opens"] is opens
    for shift, alerts in ((0.01, True), (-0.01, False)):
        level = 380.0 + sign * surely(sure + shift, worth)
        row = point(metric=metric, level=level, **{f"p_chart_{side}": 1e-5, f"p_chart_{other}": 0.9})
        assert (said(row, kind=kind)[0]["p_value"] < 0.2) is alerts


def later(days: int, **values: Any) -> dict[str, Any]:
    return point(on_date=DAY + dt.timedelta(days=days), session_id=f"s{days + 1}", **values)


def test_a_chart_speaks_once_more_when_it_no_longer_holds() -> None:
    quiet = {"p_chart_down": 0.5}
    rows = said(point(), later(2, **quiet), later(4, **quiet), point(player_id="p2", **quiet))
    assert [(row["player_id"], row["on_date"], row["holds"]) for row in rows] == [
        ("p1", DAY, True), ("p1", DAY + dt.timedelta(days=2), False),
    ]  # fmt: skip


def test_the_last_session_of_a_day_speaks_for_eight_at_most() -> None:
    rows = [later(days) for days in range(10)] + [later(9, p_chart_down=0.001) | {"session_id": "s99"}]
    found = said(*rows)
    assert (len(found), found[-1]["p_value"]) == (10, 0.001)
    assert found[0]["sources"] == ["s1"]
    assert found[7]["sources"] == [f"s{number}" for number in range(1, 9)]
    assert found[-1]["sources"] == [f"s{number}" for number in range(3, 10)] + ["s99"]


def test_who_was_tested_in_the_week_up_to_a_night_is_counted() -> None:
    """p2 was there on the first day, p3 on the seventh, p1 on both and later; an iron is a stream of its own."""
    rows = [point(), point(player_id="p2"), later(6, player_id="p3"), later(6), later(7), later(7, club_group="iron")]
    found = {(row["player_id"], row["on_date"], row["club_group"]): (row["n_players"], row["n_streams"]) for row in said(*rows)}
    week, after = DAY + dt.timedelta(days=6), DAY + dt.timedelta(days=7)
    assert found == {
        ("p1", DAY, "driver"): (2, 1), ("p2", DAY, "driver"): (2, 1), ("p3", week, "driver"): (3, 1), ("p1", week,
        "driver"): (3, 1),
        ("p1", after, "driver"): (2, 2), ("p1", after, "iron"): (2, 2),
    }  # fmt: skip
    both = [point(metric=metric, p_chart_up=1e-4, level=390.0) for metric in ("scatter_side_m", "scatter_long_m")]
    assert [(row["n_players"], row["n_streams"]) for row in said(*both, kind="scatter_rise")] == [(2, 1), (2, 1)]


def stalls(*rows: dict[str, Any]) -> list[dict[str, Any]]:
    return stall_candidates(frame(rows), players_judged(frame(rows))).to_dicts()


def test_each_column_of_a_stall() -> None:
    assert stalls(point(p_stall=0.01), point(metric="aim_deg", p_stall=0.01)) == [
        {
            "player_id": "p1", "on_date": DAY, "kind": "speed_stall", "metric": "club_speed_mps", "region": "",
            "club_group": "driver",
            "device_id": "bay-1", "opens": True, "holds": True, "certain": False, "p_value": pytest.approx(0.005), "n_streams": 1,
            "n_players": 1, "strength": pytest.approx(-math.log10(0.005)),
            "value": pytest.approx(math.exp(3.77)), "baseline": pytest.approx(math.exp(3.78237)),
            "low": pytest.approx(math.exp(3.76)), "high": pytest.approx(math.exp(3.78)), "n": 20, "reasons": ["change_28=-1.24"],
            "sources": ["s1"],
        }
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"p_stall": 0.0199}, [(True, True, 0.00995)]),
        ({"p_stall": 0.022}, [(False, True, 0.011)]),
        ({"p_stall": 0.2}, [(False, True, 0.1)]),
        ({"p_stall": 0.21}, []),
        ({"p_stall": 0.005, "growth": 0.1}, [(True, True, 0.2)]),
        ({"p_stall": 0.005, "growth": None}, [(True, True, 0.0025)]),
        # a rise that may go on as it is, a slower one, one of no known slope; one twice and one ten times as steep
        ({"p_stall": 0.01, "stall_slope": 0.42}, [(True, True, 0.01)]),
        ({"p_stall": 0.01, "stall_slope": 0.3}, [(True, True, 0.01)]),
        ({"p_stall": 0.01, "stall_slope": None}, [(True, True, 0.01)]),
        ({"p_stall": 0.016, "stall_slope": 0.84}, [(True, True, 0.004)]),
        ({"p_stall": 0.02, "stall_slope": 4.2}, [(True, True, 0.003)]),
    ],
)
def test_where_a_stall_opens_and_holds(values: dict[str, Any], expected: list[tuple[bool, bool, float]]) -> None:
    assert [(row["opens"], row["holds"], pytest.approx(row["p_value"])) for row in stalls(point(**values))] == expected


def sessions(every_days: int, **last: Any) -> list[dict[str, Any]]:
    """Thirteen sessions of which nothing is said but of the last."""
    quiet = {"level": 380.0, "p_chart_down": 1.0}
    days = [DAY + dt.timedelta(days=every_days * number) for number in range(13)]
    return [point(on_date=day, session_id=f"s{number}", **quiet) for number, day in enumerate(days[:-1])] + [
        point(on_date=days[-1], session_id="s12", **last)
    ]


@pytest.mark.parametrize(("every_days", "share"), [(2, 1.0), (4, 12 * 365.25 / 12 / 13 / 48), (7, 12 * 365.25 / 12 / 13 / 84)])
def test_a_chance_counts_for_what_it_comes_to_in_a_month(every_days: int, share: float) -> None:
    """Three sessions a week are 13 a month; thirteen at every 4 days begin 12 of them 48 days before, which is 7.6 a month."""
    fall = said(*sessions(every_days, p_chart_down=0.006))[-1]
    weight = share * min(1.0, 2.0 * share) ** 2  # below a half of three a week there is less to tell it by
    assert fall["p_value"] == pytest.approx(0.006 * weight)
    assert fall["opens"] == (0.006 * weight <= 0.004)
    assert fall["reasons"][-1] == "chance=0.006"
    stall = stalls(*sessions(every_days, p_stall=0.03))[-1]
    assert stall["p_value"] == pytest.approx(0.015 * weight)
    assert stall["opens"] == (0.015 * weight <= 0.01)


def test_a_stall_speaks_once_more_when_it_is_over() -> None:
    rows = stalls(point(p_stall=0.01), later(2), later(4), later(2, player_id="p2"))
    assert [(row["player_id"], row["holds"]) for row in rows] == [("p1", True), ("p1", False)]
