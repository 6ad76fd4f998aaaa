"""Score cards by month, the spread of a round, and whether a change of the tee game shows."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import polars as pl
import pytest

from pipelines.measures.strokes.rounds import round_months, score_gains, score_spreads, with_size
from schemas.core.ball import ROUND_MONTH, SCORE_GAIN

ROUND = {
    "player_id": pl.String, "played_on": pl.Date, "round_no": pl.Int64, "holes": pl.Int64, "tee_shots": pl.Int64,
    "fairways": pl.Int64, "penalties": pl.Int64, "strokes": pl.Int64,
}  # fmt: skip


def cards(*rows: tuple[Any, ...]) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=ROUND, orient="row")


def season(player_id: str, seed: int, levels: dict[int, float], n: int = 8, sd: float = 3.0) -> list[tuple[Any, ...]]:
    """Whole rounds of 2026, ``n`` in each month of ``levels``."""
    rng = np.random.default_rng(seed)
    return [
        (player_id, date(2026, month, day + 1), 1, 18, 14, 7, 1, round(rng.normal(level, sd)))
        for month, level in levels.items()
        for day in range(n)
    ]


def months(rounds: pl.DataFrame) -> list[dict[str, Any]]:
    return round_months(rounds, ROUND_MONTH.polars_schema()).to_dicts()


def test_a_half_round_counts_half() -> None:
    (row,) = months(cards(("p", date(2026, 5, 2), 1, 18, 14, 7, 1, 80), ("p", date(2026, 5, 9), 1, 9, 7, 4, 0, 37)))
    assert (row["n_rounds"], row["n_holes"]) == (2, 27)
    assert row["score"] == pytest.approx(117 / 1.5)
    assert row["fairway_share"] == pytest.approx(11 / 21)
    assert row["penalties"] == pytest.approx(1 / 1.5)


def test_what_no_card_says_is_null_and_a_card_without_a_score_is_no_round() -> None:
    rows = months(cards(("p", date(2026, 5, 2), 1, 18, None, None, None, 80), ("p", date(2026, 6, 2), 1, 18, 14, 7, 1, None)))
    assert [row["month_on"] for row in rows] == [date(2026, 5, 1)]
    assert (rows[0]["fairway_share"], rows[0]["penalties"], rows[0]["n_tee_shots"]) == (None, None, 0)
    assert rows[0]["score_low"] is None  # one round: nothing tells how far rounds lie apart


def test_the_interval_of_a_months_score_holds_the_level_nine_times_in_ten() -> None:
    held = []
    for seed in range(120):
        rounds = cards(*season("p", seed, {4: 80.0, 5: 78.0, 6: 79.0}, n=4), *season("q", seed + 999, {4: 90.0, 5: 91.0}, n=4))
        held += [
            row["score_low"] <= {4: 80.0, 5: 78.0, 6: 79.0}[row["month_on"].month] <= row["score_high"]
            for row in months(rounds)
            if row["player_id"] == "p"
        ]
    assert np.mean(held) == pytest.approx(0.90, abs=0.045)


def test_a_steady_player_among_others_has_a_smaller_spread() -> None:
    spreads = score_spreads(
        with_size(
            cards(
                *season("steady", 1, {4: 80.0, 5: 80.0, 6: 80.0, 7: 80.0}, sd=1.5),
                *season("wild", 2, {4: 80.0, 5: 80.0, 6: 80.0, 7: 80.0}, sd=6.0),
            )
        )
    )
    assert spreads["steady"].sd < 3.5 < spreads["wild"].sd
    assert spreads["steady"].df == pytest.approx(8 + 28)


def tee_game(change: float | None, fairway_share: float = 0.5) -> pl.DataFrame:
    return pl.DataFrame(
        [
            {
                "player_id": "p", "month_on": date(2026, 9, 1), "course": "home", "fairway_share": fairway_share,
                "change": change, "change_low": None if change is None else change - 0.3,
                "change_high": None if change is None else change + 0.3,
                "reference_from_on": None if change is None else date(2026, 1, 1),
                "reference_to_on": None if change is None else date(2026, 3, 1),
            }
        ],
        schema_overrides={"change": pl.Float64, "reference_from_on": pl.Date, "reference_to_on": pl.Date},
    )  # fmt: skip


BEFORE = {1: 82.0, 2: 82.0, 3: 82.0}


@pytest.mark.parametrize(
    ("now", "change", "state"),
    [
        (78.0, -2.0, "shows"),
        (82.0, -0.8, "not_yet"),
        (86.0, -2.0, "against"),
        (78.0, -0.2, "too_small"),
        (80.0, None, "no_reference"),
    ],
)
def test_whether_the_tee_game_shows(now: float, change: float | None, state: str) -> None:
    rounds = cards(*season("p", 5, {**BEFORE, 7: now, 8: now, 9: now}))
    row = score_gains(rounds, tee_game(change), SCORE_GAIN.polars_schema()).row(0, named=True)
    assert row["state"] == state
    assert (row["n_rounds"], row["n_reference_rounds"]) == (24, 0 if change is None else 24)
    if change is not None:
        assert row["change_low"] < row["score_change"] < row["change_high"]
        assert row["score_change"] == pytest.approx(now - 82.0, abs=1.8)


def test_rounds_outside_the_months_do_not_count() -> None:
    rounds = cards(*season("p", 5, {4: 60.0, 5: 60.0, 6: 60.0, 7: 80.0, 9: 80.0, 10: 60.0}))
    row = score_gains(rounds, tee_game(-1.0), SCORE_GAIN.polars_schema()).row(0, named=True)
    assert (row["n_rounds"], row["n_reference_rounds"], row["state"]) == (16, 0, "no_reference")
    assert row["score"] == pytest.approx(80.0, abs=2.0)


def test_a_player_without_a_card_in_these_months_has_no_row() -> None:
    assert score_gains(cards(*season("p", 5, BEFORE)), tee_game(-1.0), SCORE_GAIN.polars_schema()).is_empty()


@pytest.mark.parametrize(("share", "state"), [(0.5, "agrees"), (0.75, "fewer"), (0.25, "more")])
def test_the_fairways_of_the_pattern_beside_those_of_the_cards(share: float, state: str) -> None:
    rounds = cards(*season("p", 5, {7: 80.0, 8: 80.0, 9: 80.0}))
    row = score_gains(rounds, tee_game(-1.0, share), SCORE_GAIN.polars_schema()).row(0, named=True)
    assert (row["fairway_state"], row["n_tee_shots"]) == (state, 24 * 14)


def test_seven_in_ten_true_gains_of_that_size_are_seen_with_the_number_of_rounds_named() -> None:
    """The number is for four in five with a known spread; an estimated one costs a little."""
    seen = []
    for seed in range(150):
        n = 17  # 2 (2.4865 x 3 / 2.5)^2
        rounds = cards(*season("p", seed, {3: 82.0}, n=n), *season("p", seed + 5000, {9: 79.5}, n=n))
        row = score_gains(rounds, tee_game(-2.5), SCORE_GAIN.polars_schema()).row(0, named=True)
        seen.append(row["state"] == "shows")
    assert np.mean(seen) > 0.7
