"""What only control of false discoveries gives: cases that p-values alone, or one limit for all, would decide otherwise.

The rules here have no largest p-value of their own, so nothing but the control decides. Rates are computed by hand from the
definition of Benjamini & Hochberg 1995 (``q_(i) = min p_(j) m / j``) and of Simes 1986 (``min p_(j) m / j``).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import polars as pl
import pytest

from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA
from pipelines.measures.flags.engine import HOLD_BACK_DAYS, P_VALUE_DAYS, flag_history
from pipelines.measures.flags.rules import RULES, Rule
from pipelines.measures.flags.state import AlertPolicy

DAY = dt.date(2026, 3, 1)
UNCAPPED = {kind: replace(rule, largest_p_value=1.0) for kind, rule in RULES.items()}


def row(player: str, p_value: float | None, on: int = 0, kind: str = "speed_fall", **more: Any) -> dict[str, Any]:
    base = {"player_id": player, "on_date": DAY + dt.timedelta(days=on), "kind": kind, "opens": True, "holds": True}
    return base | {"metric": "club_speed_mps", "club_group": "driver", "strength": 3.0, "p_value": p_value} | more


def alerted(rows: list[dict[str, Any]], rate: float, until: int = 0, rules: dict[str, Rule] = UNCAPPED) -> set[str]:
    """Players with an alert on the night ``until``."""
    frame = pl.DataFrame(rows, schema_overrides={name: CANDIDATE_SCHEMA[name] for name in rows[0]}, infer_schema_length=None)
    flags = flag_history(frame, DAY + dt.timedelta(days=until), AlertPolicy(false_share=rate, per_week=100), rules).flags
    return set(flags.filter(pl.col("level") == "alert")["player_id"])


def test_ten_that_only_stand_together_are_all_alerts() -> None:
    # p = .01, .02, ... .10 of ten players: at a rate of .10 the largest decides (10/10 x .10); one by one only .01 passes .1/10
    rows = [row(f"P{i:02d}", i / 100, n_players=10) for i in range(1, 11)]
    assert len(alerted(rows, 0.1001)) == 10
    assert alerted(rows, 0.0999) == set()


def test_small_p_values_among_many_tests_are_none() -> None:
    # .04 would pass a limit of .05 for each; q = .04 x 10 / 2 = .2
    rows = [row("P1", 0.04, n_players=10), row("P2", 0.04, n_players=10)]
    assert alerted(rows, 0.05) == set()
    assert alerted(rows, 0.2001) == {"P1", "P2"}


@pytest.mark.parametrize(("n_players", "expected"), [(5, {"P1"}), (6, set())])
def test_the_family_is_the_squad_and_not_the_rows_at_hand(n_players: int, expected: set[str]) -> None:
    # one row at hand: q = .02 x 5 = .10 and .02 x 6 = .12
    assert alerted([row("P1", 0.02, n_players=n_players)], 0.1001) == expected


def test_kinds_that_are_tested_together_are_one_family() -> None:
    # alone q = .02 x 5 = .10; with five tests of another kind .02 x 10 / 1 = .20
    other = row("P9", 0.9, kind="speed_rise", n_players=5, opens=False, holds=False)
    assert alerted([row("P1", 0.02, n_players=5)], 0.1001) == {"P1"}
    assert alerted([row("P1", 0.02, n_players=5), other], 0.1001) == set()


@pytest.mark.parametrize(("days", "expected"), [(P_VALUE_DAYS - 1, True), (P_VALUE_DAYS, False)])
def test_a_p_value_counts_for_seven_nights(days: int, expected: bool) -> None:
    # two tests in the squad: beside .001 of some nights ago q = .04 x 2 / 2 = .04; without it .04 x 2 / 1 = .08
    rows = [row("P1", 0.001, n_players=2), row("P2", 0.04, on=days, n_players=2)]
    assert P_VALUE_DAYS == 7
    assert ("P2" in alerted(rows, 0.05, until=days)) is expected


def test_two_middling_streams_of_a_player_carry_what_one_does_not() -> None:
    # Simes: .04 and .04 give .04 x 2 / 2 = .04; .04 and .9 give .04 x 2 / 1 = .08
    def streams(second: float) -> list[dict[str, Any]]:
        return [row("P1", 0.04, n_players=1), row("P1", second, club_group="iron", n_players=1)]

    assert alerted(streams(0.04), 0.05) == {"P1"}
    assert alerted(streams(0.9), 0.05) == set()


def test_streams_that_were_tested_and_are_not_at_hand_count() -> None:
    # one stream of four: .02 x 4 = .08
    assert alerted([row("P1", 0.02, n_players=1, n_streams=4)], 0.05) == set()
    assert alerted([row("P1", 0.02, n_players=1, n_streams=2)], 0.05) == {"P1"}


@pytest.mark.parametrize(("p_value", "expected"), [(0.010, {"P1"}), (0.011, set())])
def test_a_rules_largest_p_value_caps_what_the_rate_would_let_pass(p_value: float, expected: set[str]) -> None:
    capped = UNCAPPED | {"speed_fall": replace(RULES["speed_fall"], largest_p_value=0.010)}
    assert alerted([row("P1", p_value, n_players=1)], 0.5, rules=capped) == expected
    assert alerted([row("P1", p_value, n_players=1)], 0.5) == {"P1"}


@pytest.mark.parametrize(("days", "expected"), [(HOLD_BACK_DAYS, set()), (HOLD_BACK_DAYS + 1, {"P1"})])
def test_alerts_are_taken_back_for_so_many_days_and_no_longer(days: int, expected: set[str]) -> None:
    early = row("P1", 1e-9, n_players=5, device_id="bay-3")
    shift = row("", None, on=days, kind="device_shift", device_id="bay-3", certain=True)
    assert alerted([early, shift], 0.1, until=days) - {""} == expected


def test_an_alert_on_another_device_is_not_taken_back() -> None:
    early = row("P1", 1e-9, n_players=5, device_id="bay-4")
    shift = row("", None, on=1, kind="device_shift", device_id="bay-3", certain=True)
    assert alerted([early, shift], 0.1, until=1) - {""} == {"P1"}
