"""Candidates of transfer_loss and speed_cost: when they open, hold and fall silent."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import polars as pl
import pytest
from scipy import stats

from pipelines.measures.flags.ball_rules import cost_candidates, stroke_candidates, transfer_candidates
from pipelines.measures.flags.engine import flag_history

NIGHT = date(2026, 6, 30)


def transfer_row(month: int, **values: Any) -> dict[str, Any]:
    return {
        "player_id": "a",
        "month_on": date(2026, month, 1),
        "n_shots": 100,
        "club_speed_mps": 47.0,
        "club_speed_error_mps": 0.15,
        "reference_club_speed_mps": 45.0,
        "reference_club_speed_error_mps": 0.1,
        "carry_m": 211.0,
        "carry_error_m": 1.0,
        "reference_carry_m": 210.0,
        "reference_carry_error_m": 0.7,
        "on_offer_m": 11.0,
        "strike_m": -7.0,
        "speed_ratio_m": -3.0,
        "launch_m": 0.0,
        "spin_m": 0.0,
        "carry_change_m": 1.0,
        "is_factor_known": True,
        "device_id": "d1",
        "reason": "",
    } | values


def lost(*rows: dict[str, Any], as_of: date = NIGHT) -> pl.DataFrame:
    return transfer_candidates(pl.DataFrame(rows, infer_schema_length=None), as_of)


def test_speed_up_and_carry_not_opens_at_the_end_of_the_month() -> None:
    row = lost(transfer_row(5)).row(0, named=True)
    assert (row["opens"], row["holds"], row["on_date"]) == (True, True, date(2026, 5, 31))
    assert (row["value"], row["baseline"], row["club_group"]) == (211.0, 221.0, "driver")
    assert row["reasons"] == ["lost_strike", "lost_ratio"]
    assert row["p_value"] < 1e-6


@pytest.mark.parametrize(
    ("values", "opens"),
    [
        ({"carry_change_m": 11.0}, False),  # it has arrived
        ({"carry_change_m": 6.5}, False),  # less than half is missing
        ({"carry_error_m": 9.0}, False),  # too noisy to say
        ({"club_speed_error_mps": 2.0}, False),  # the speed itself may be noise
    ],
)
def test_what_does_not_open(values: dict[str, Any], opens: bool) -> None:
    assert lost(transfer_row(5, **values))["opens"].to_list() == [opens]


def test_of_speed_up_and_carry_missing_the_less_certain_counts() -> None:
    """By hand: speed is up by 0.6 +- 0.41 m/s, one-sided .07; 11 m are missing, of which 4.6 errors leave no doubt."""
    row = lost(transfer_row(5, club_speed_mps=45.6, club_speed_error_mps=0.4, on_offer_m=3.0, carry_change_m=-8.0)).row(
        0, named=True
    )
    assert row["p_value"] == pytest.approx(stats.norm.sf(0.6 / math.hypot(0.4, 0.1)))
    assert (row["opens"], row["holds"]) == (False, True)


def test_silence() -> None:
    assert lost(transfer_row(5, club_speed_mps=45.2)).is_empty()
    assert lost(transfer_row(5, is_factor_known=False)).is_empty()
    assert lost(transfer_row(5, reason="no_reference")).is_empty()
    assert lost(transfer_row(6), as_of=date(2026, 6, 29)).is_empty()  # the month is not over


def test_the_month_after_speaks_once_more_to_close() -> None:
    found = lost(
        transfer_row(3),
        transfer_row(4, club_speed_mps=45.1, on_offer_m=0.5),
        transfer_row(5, club_speed_mps=45.1, on_offer_m=0.5),
    )
    assert found.select("on_date", "holds").rows() == [(date(2026, 3, 31), True), (date(2026, 4, 30), False)]


def cost_row(**values: Any) -> dict[str, Any]:
    return {
        "player_id": "a",
        "month_on": date(2026, 5, 1),
        "change": 1.2,
        "change_error": 0.35,
        "change_low": 0.6,
        "change_high": 1.8,
        "chance_cost": 0.999,
        "change_speed_mps": 1.8,
        "change_scatter_deg": 1.5,
        "change_speed_error_mps": 0.3,
        "recent_n": 240,
        "is_factor_known": True,
        "device_id": "d1",
        "reason": "",
    } | values


def cost(**values: Any) -> pl.DataFrame:
    return cost_candidates(pl.DataFrame([cost_row(**values)]), NIGHT)


def test_speed_that_costs_opens_with_its_interval() -> None:
    row = cost().row(0, named=True)
    assert (row["opens"], row["value"], row["low"], row["high"], row["n"]) == (True, 1.2, 0.6, 1.8, 240)
    assert row["reasons"] == ["scatter_up"]


def test_a_gain_of_speed_within_the_error_of_both_sides_is_no_gain_yet() -> None:
    assert cost(change_speed_mps=0.6, change_speed_error_mps=0.2)["opens"].to_list() == [True]
    assert cost(change_speed_mps=0.6, change_speed_error_mps=0.3)["opens"].to_list() == [False]
    assert cost(change_speed_error_mps=None).is_empty()


def test_strokes_lost_without_speed_are_not_its_price() -> None:
    assert cost(change_speed_mps=0.1).is_empty()
    assert cost(change=-0.5)["opens"].to_list() == [False]
    assert cost(change_error=1.5)["opens"].to_list() == [False]
    assert cost(reason="no_reference").is_empty()


def stroke_row(month: int, change: float, error: float = 0.1, **values: Any) -> dict[str, Any]:
    return {
        "player_id": "a",
        "month_on": date(2026, month, 1),
        "change": change,
        "change_error": error,
        "change_low": change - 1.645 * error,
        "change_high": change + 1.645 * error,
        "change_scatter_deg": 0.0,
        "change_speed_mps": 0.0,
        "recent_n": 90,
        "is_factor_known": True,
        "device_id": "d1",
        "reason": "",
    } | values


def strokes(*rows: dict[str, Any]) -> pl.DataFrame:
    return stroke_candidates(pl.DataFrame(rows), NIGHT)


@pytest.mark.parametrize(("change", "kind"), [(0.6, "strokes_worse"), (-0.6, "strokes_better")])
def test_a_pattern_that_costs_or_saves_strokes_is_told_whatever_speed_did(change: float, kind: str) -> None:
    opened = strokes(stroke_row(5, change)).filter("opens")
    assert opened["kind"].to_list() == [kind]
    assert opened["value"].to_list() == [change]


def months_of(player: str, *changes: float) -> list[dict[str, Any]]:
    """Finished months in a row up to May 2026, each with its change."""
    begin = 12 * 2026 + 4 - len(changes) + 1
    days = [date((begin + back) // 12, (begin + back) % 12 + 1, 1) for back in range(len(changes))]
    return [stroke_row(1, change, player_id=player, month_on=day) for day, change in zip(days, changes, strict=True)]


def test_months_of_strokes_may_come_in_any_order() -> None:
    rows = [*months_of("a", 0.0, 0.6, 0.6, 0.6, 0.0, 0.6, 0.6, 0.6), *months_of("b", 0.6, -0.6, 0.6, 0.6)]
    told = strokes(*rows)
    assert told["opens"].any()
    assert strokes(*rows[::-1]).equals(told)


def test_what_costs_strokes_for_six_months_closes_as_lasting_and_opens_no_more_until_it_was_over() -> None:
    long = months_of("a", 0.05, *[0.6] * 9)
    short = months_of("b", *[0.6] * 4, 0.0, *[0.6] * 5)  # back in between: a new run
    weak = months_of("c", *[0.25] * 9, 0.6)  # held, and opened only now
    rows = strokes(*long, *short, *weak).filter(kind="strokes_worse").sort("player_id", "on_date")
    told = {player: rows.filter(player_id=player) for player in "abc"}
    assert told["a"]["opens"].to_list() == [False, *[True] * 6, *[False] * 3]
    assert told["a"]["holds"].to_list() == [False, *[True] * 6, *[False] * 3]
    assert ["closed:lasting" in reasons for reasons in told["a"]["reasons"]] == [*[False] * 7, *[True] * 3]
    assert told["b"].filter("opens").height == 9
    assert told["c"]["opens"].to_list() == [*[False] * 9, True]
    flags = flag_history(rows, NIGHT).flags
    assert flags.filter(player_id="a").select("closed_because", "closed_on").rows() == [("lasting", date(2026, 3, 31))]


@pytest.mark.parametrize(
    "row",
    [
        stroke_row(5, 0.2, 0.05),  # sure, and too little to matter
        stroke_row(5, 0.6, 0.5),  # it may be chance
        stroke_row(5, 0.6, is_factor_known=False),
        stroke_row(5, 0.6, reason="too_few_shots"),
        stroke_row(7, 0.6),  # the month is not over
    ],
)
def test_what_is_small_open_or_not_known_opens_nothing(row: dict[str, Any]) -> None:
    assert not strokes(row)["opens"].any()


def test_strokes_that_are_back_no_longer_hold() -> None:
    rows = strokes(stroke_row(4, 0.6), stroke_row(5, -0.02)).filter(kind="strokes_worse").sort("on_date")
    assert rows["holds"].to_list() == [True, False]


def test_each_column_of_a_lost_gain() -> None:
    """The larger of two one-sided normal chances; an error that is not known of the reference is taken as that of the month."""
    speed_error = math.hypot(0.15, 0.1)
    for reference_error, carry_own in ((0.7, math.hypot(1.0, 0.7)), (None, math.hypot(1.0, 1.0))):
        carry_error = math.hypot(carry_own, speed_error * 11.0 / 2.0)
        chance = stats.norm.sf(min(2.0 / speed_error, 10.0 / carry_error))
        rows = lost(transfer_row(5, reference_carry_error_m=reference_error), transfer_row(5, player_id="b", club_speed_mps=45.0))
        assert rows.height == 1
        row = rows.row(0, named=True)
        assert row["p_value"] == pytest.approx(chance, rel=1e-9)
        assert row["strength"] == pytest.approx(-math.log10(max(chance, 1e-8)))
        assert (row["player_id"], row["kind"], row["metric"], row["device_id"]) == (
            "a",
            "transfer_loss",
            "comparable_carry_m",
            "d1",
        )
        assert (row["n"], row["sources"], row["certain"], row["low"]) == (100, ["month:2026-05-01"], False, None)
    assert lost(transfer_row(5, carry_error_m=0.0, club_speed_error_mps=1e-3, reference_club_speed_error_mps=1e-3,
                             reference_carry_error_m=0.0))["strength"].item() == 8.0  # fmt: skip


def _carry_error_for(chance: float, missing: float) -> dict[str, float]:
    """Errors with which so much missing carry has that chance, and the speed is beyond doubt."""
    total = missing / stats.norm.isf(chance)
    return {
        "club_speed_error_mps": 1e-6,
        "reference_club_speed_error_mps": 1e-6,
        "carry_error_m": total / math.sqrt(2.0),
        "reference_carry_error_m": total / math.sqrt(2.0),
    }


@pytest.mark.parametrize(
    ("values", "opens", "holds"),
    [
        ({"club_speed_mps": 45.5}, True, True),  # half a metre a second is enough
        ({"on_offer_m": 10.0, "carry_change_m": 5.0}, True, True),  # half is missing
        ({"on_offer_m": 10.0, "carry_change_m": 5.1}, False, True),
        ({"on_offer_m": 10.0, "carry_change_m": 7.5, **_carry_error_for(0.001, 2.5)}, False, True),  # a quarter is missing
        ({"on_offer_m": 10.0, "carry_change_m": 7.6, **_carry_error_for(0.001, 2.4)}, False, False),
        (_carry_error_for(0.0099, 10.0), True, True),
        (_carry_error_for(0.0101, 10.0), False, True),
        (_carry_error_for(0.099, 10.0), False, True),
        (_carry_error_for(0.101, 10.0), False, False),
    ],
)
def test_where_a_lost_gain_opens_and_holds(values: dict[str, Any], opens: bool, holds: bool) -> None:
    assert lost(transfer_row(5, **values)).select("opens", "holds").rows() == [(opens, holds)]


def test_the_last_day_of_a_month_is_its_night_and_a_year_of_it_is_read_by_player() -> None:
    assert lost(transfer_row(6), as_of=NIGHT)["on_date"].to_list() == [NIGHT]
    silent = {"club_speed_mps": 45.1, "on_offer_m": 0.5}
    rows = lost(
        transfer_row(4, player_id="b", **silent), transfer_row(5, player_id="b", **silent), transfer_row(3), transfer_row(5)
    )
    assert rows.select("player_id", "on_date").rows() == [("a", date(2026, 3, 31)), ("a", date(2026, 5, 31))]
    for unknown in ("reference_carry_m", "carry_error_m", "club_speed_error_mps"):
        assert lost(transfer_row(3), transfer_row(5, **{unknown: None})).height == 1


def test_the_parts_that_took_a_fifth_are_named_in_their_order() -> None:
    fifths = {"strike_m": -2.0, "speed_ratio_m": -1.9, "launch_m": -2.0, "spin_m": -9.0}
    assert lost(transfer_row(5, on_offer_m=10.0, **fifths))["reasons"].item().to_list() == [
        "lost_strike",
        "lost_launch",
        "lost_spin",
    ]
    assert lost(transfer_row(5, strike_m=None, speed_ratio_m=0.0))["reasons"].item().to_list() == []


def test_each_column_of_a_price_and_of_strokes() -> None:
    row = cost().row(0, named=True)
    assert row["p_value"] == pytest.approx(stats.norm.sf(1.2 / 0.35))
    assert row["strength"] == pytest.approx(-math.log10(stats.norm.sf(1.2 / 0.35)))
    assert (row["kind"], row["metric"], row["holds"], row["baseline"]) == ("speed_cost", "strokes", True, None)
    assert cost(change_speed_error_mps=1.0)["p_value"].item() == pytest.approx(stats.norm.sf(1.8))
    worse, better = (strokes(stroke_row(5, sign * 0.6, 0.2)).row(0, named=True) for sign in (1, -1))
    for row in (worse, better):
        assert row["p_value"] == pytest.approx(stats.norm.sf(3.0))
        assert (row["metric"], row["n"], row["on_date"], row["reasons"]) == ("strokes", 90, date(2026, 5, 31), [])
        assert row["low"] < row["value"] < row["high"]
    assert strokes(stroke_row(5, 0.6, change_scatter_deg=0.31))["reasons"].item().to_list() == ["scatter_up"]
    assert strokes(stroke_row(5, 0.6, change_scatter_deg=0.3))["reasons"].item().to_list() == []


@pytest.mark.parametrize(
    ("chance", "opens", "holds"), [(0.0099, True, True), (0.0101, False, True), (0.099, False, True), (0.101, False, False)]
)
def test_where_strokes_open_and_hold(chance: float, opens: bool, holds: bool) -> None:
    error = 0.6 / stats.norm.isf(chance)
    assert cost(change=0.6, change_error=error).select("opens", "holds").rows() == [(opens, holds)]
    assert strokes(stroke_row(5, 0.6, error)).select("opens", "holds").rows() == [(opens, holds)]


def test_what_is_too_small_or_not_known_of_strokes() -> None:
    assert cost(change_speed_mps=0.5).height == 1
    for values in ({"change_speed_mps": 0.49}, {"change_speed_mps": None}, {"change_speed_error_mps": None}):
        assert cost(**values).is_empty()
    assert cost(is_factor_known=False).is_empty()
    assert cost(month_on=date(2026, 6, 1))["on_date"].to_list() == [NIGHT]
    assert cost(month_on=date(2026, 7, 1)).is_empty()
    assert strokes(stroke_row(5, 0.3, 0.05))["opens"].to_list() == [True]
    assert strokes(stroke_row(5, 0.29, 0.05))["opens"].to_list() == [False]
    assert strokes(stroke_row(5, 0.6, 0.0)).is_empty()
    assert strokes(stroke_row(5, 0.0)).is_empty()
    assert strokes(stroke_row(6, 0.6)).height == 1
