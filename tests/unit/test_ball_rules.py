"""Candidates of transfer_loss and speed_cost: when they open, hold and fall silent."""

from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl
import pytest

from pipelines.measures.flags.ball_rules import cost_candidates, stroke_candidates, transfer_candidates

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
