"""Score cards by month, the spread of a round, and whether a change of the tee game shows."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.intervals import count_interval, share_interval
from pipelines.measures.strokes.rounds import (
    ScoreSpread,
    _state,
    home_cards,
    round_months,
    rounds_to_see,
    score_gains,
    score_spreads,
    with_size,
)
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


MIXED = (
    ("p", date(2026, 4, 2), 1, 18, 14, 7, 2, 80), ("p", date(2026, 4, 9), 1, 18, 14, 8, None, 86),
    ("p", date(2026, 4, 16), 1, 9, 7, None, 1, 41), ("p", date(2026, 5, 2), 1, 18, None, 5, 0, 79),
    ("q", date(2026, 4, 2), 1, 18, 14, 0, 0, 95), ("q", date(2026, 4, 3), 1, 18, 14, 14, 0, 99), ("q", date(2026, 6, 3), 1,
    9, 7, 7, 0, 50),
    ("p", date(2026, 5, 20), 1, None, 14, 7, 1, 80),
)  # fmt: skip


def spread_by_hand() -> dict[str, tuple[float, float]]:
    """Squares over size about the month's level; the squad's variance counts eight degrees of freedom."""
    squares, df = {"p": 0.0, "q": 0.0}, {"p": 2, "q": 1}
    for player, on, size_of in (("p", 4, (1.0, 1.0, 0.5)), ("q", 4, (1.0, 1.0))):
        strokes = [card[7] for card in MIXED if card[0] == player and card[1].month == on]
        level = sum(strokes) / sum(size_of)
        squares[player] = sum((done - level * size) ** 2 / size for done, size in zip(strokes, size_of, strict=True))
    squad = sum(squares.values()) / sum(df.values())
    return {name: (((squares[name] + 8 * squad) / (df[name] + 8)) ** 0.5, df[name] + 8.0) for name in df}


def test_the_spread_of_a_round_is_that_by_hand() -> None:
    spreads = score_spreads(with_size(cards(*MIXED)))
    expected = spread_by_hand()
    assert {name: (one.sd, one.df) for name, one in spreads.items()} == {
        name: (pytest.approx(sd), pytest.approx(df)) for name, (sd, df) in expected.items()
    }
    assert score_spreads(with_size(cards(MIXED[3], MIXED[6]))) == {}


def test_each_column_of_a_month_of_cards() -> None:
    found = months(cards(*MIXED))
    assert [(row["player_id"], row["month_on"].month, row["n_rounds"], row["n_holes"]) for row in found] == [
        ("p", 4, 3, 45), ("p", 5, 1, 18), ("q", 4, 2, 36), ("q", 6, 1, 9),
    ]  # fmt: skip
    spreads = spread_by_hand()
    sizes, strokes = (2.5, 1.0, 2.0, 0.5), (207, 79, 194, 50)
    shots, penalties = ((28, 15), (0, 0), (28, 14), (7, 7)), ((3, 1.5), (0, 1.0), (0, 2.0), (0, 0.5))
    for row, size, done, (tries, hits), (count, over) in zip(found, sizes, strokes, shots, penalties, strict=True):
        sd, df = spreads[row["player_id"]]
        away = stats.t.isf(0.05, df) * sd / size**0.5
        assert row["score"] == pytest.approx(done / size)
        assert (row["score_low"], row["score_high"]) == (pytest.approx(done / size - away), pytest.approx(done / size + away))
        told = (hits / tries, *share_interval(hits, tries)) if tries else (None, None, None)
        assert (row["n_tee_shots"], row["fairway_share"], row["fairway_low"], row["fairway_high"]) == (tries, *told)
        known = (count / over, *count_interval(count, over))
        assert (row["penalties"], row["penalties_low"], row["penalties_high"]) == pytest.approx(known)


def test_each_column_of_what_the_score_says() -> None:
    before, now = (tuple(("p", date(2026, month, day), 1, 18, 14, 7, 1, score) for day, score in enumerate(scores, 1))
                   for month, scores in ((2, (80, 84, 82)), (9, (78, 80))))  # fmt: skip
    row = score_gains(cards(*before, *now), tee_game(-1.5), SCORE_GAIN.polars_schema()).row(0, named=True)
    squares, df = 8.0 + 2.0, 3.0
    sd = ((squares + 8 * squares / df) / (df + 8)) ** 0.5
    reach = stats.t.isf(0.05, df + 8)
    away = reach * sd * (1 / 2 + 1 / 3) ** 0.5
    low, high = share_interval(14, 28)
    assert row == {
        "player_id": "p", "month_on": date(2026, 9, 1), "course": "home", "recent_from_on": date(2026, 7, 1), "n_rounds": 2,
        "score": 79.0, "score_low": pytest.approx(79.0 - reach * sd / 2**0.5),
        "score_high": pytest.approx(79.0 + reach * sd / 2**0.5),
        "round_sd": pytest.approx(sd), "reference_from_on": date(2026, 1, 1), "reference_to_on": date(2026, 3, 1),
        "n_reference_rounds": 3, "expected_change": -1.5, "expected_low": -1.8, "expected_high": -1.2, "score_change": -3.0,
        "change_low": pytest.approx(-3.0 - away), "change_high": pytest.approx(-3.0 + away),
        "rounds_to_see": math.ceil(2 * ((stats.norm.isf(0.05) + stats.norm.isf(0.2)) * sd / 1.5) ** 2),
        "state": "not_yet" if away > 3.0 else "shows", "n_tee_shots": 28, "drive_fairway_share": 0.5, "card_fairway_share": 0.5,
        "card_fairway_low": pytest.approx(low), "card_fairway_high": pytest.approx(high), "fairway_state": "agrees",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("change", "sd", "n"), [(0.3, 1.0, 138), (-0.3, 1.0, 138), (0.29, 1.0, None), (5.0, 1.0, 2), (1.0, 2.0, 50), (3.0, 3.0, 13)]
)
def test_how_many_rounds_it_takes(change: float, sd: float, n: int | None) -> None:
    """2 (2.4865 sd / change)^2, at least two on either side."""
    assert rounds_to_see(change, ScoreSpread(sd, 10.0)) == n


@pytest.mark.parametrize(
    ("month", "first"), [(1, date(2025, 11, 1)), (2, date(2025, 12, 1)), (3, date(2026, 1, 1)), (12, date(2026, 10, 1))]
)
def test_the_last_three_months_reach_over_the_new_year(month: int, first: date) -> None:
    game = tee_game(-1.0).with_columns(pl.lit(date(2026, month, 1)).alias("month_on"))
    inside, outside = first, first - timedelta(days=1)
    rows = [("p", on, 1, 18, 14, 7, 1, 80) for on in (outside, inside, date(2026, month, 28))]
    row = score_gains(cards(*rows), game, SCORE_GAIN.polars_schema()).row(0, named=True)
    assert (row["recent_from_on"], row["n_rounds"]) == (first, 2)


def test_who_played_no_round_lately_does_not_hide_who_did() -> None:
    of_two = pl.concat([tee_game(-1.0).with_columns(pl.lit(name).alias("player_id")) for name in ("o", "p")])
    rows = [("p", date(2026, 9, day), 1, 18, 14, 7, 1, 80) for day in (1, 2)]
    assert score_gains(cards(*rows), of_two, SCORE_GAIN.polars_schema())["player_id"].to_list() == ["p"]


def test_cards_that_tell_of_no_fairway_leave_it_unknown() -> None:
    rows = [("p", date(2026, 9, day), 1, 18, None, None, None, 80 + day) for day in (1, 2)]
    row = score_gains(cards(*rows), tee_game(-1.0), SCORE_GAIN.polars_schema()).row(0, named=True)
    told = ("fairway_state", "n_tee_shots", "card_fairway_share", "card_fairway_low", "card_fairway_high")
    assert [row[name] for name in told] == ["unknown", 0, None, None, None]


@pytest.mark.parametrize(
    ("expected", "low", "high", "state"),
    [  # of drives whose own interval leaves out zero
        (-1.0, -2.0, 0.0, "not_yet"),
        (-1.0, 0.0, 2.0, "not_yet"),
        (-1.0, -2.0, -0.1, "shows"),
        (1.0, 0.1, 2.0, "shows"),
        (1.0, -2.0, -0.1, "against"),
        (-1.0, 0.1, 2.0, "against"),
        (0.3, 0.1, 2.0, "shows"),
        (-0.29, -2.0, -0.1, "too_small"),
    ],
)
def test_what_an_interval_says_of_the_expected_change(expected: float, low: float, high: float, state: str) -> None:
    assert _state(expected, True, low, high) == state
    of_unclear_drives = "drives_unclear" if state in {"shows", "against"} else state
    assert _state(expected, False, low, high) == of_unclear_drives


@pytest.mark.parametrize(
    ("home", "kept"),
    [("Old Links", ["Old Links", " Old Links ", None]), ("tree-lined", ["Far Dunes", None])],  # a kind of course no card can name
)
def test_the_cards_of_the_course_that_counts(home: str, kept: list[str | None]) -> None:
    own = ("Old Links", "New Park")
    places = ["Old Links", " Old Links ", "New Park", "Far Dunes", None]
    rounds = pl.DataFrame({"player_id": ["p"] * 5, "round_no": range(5), "course": places})
    homes = pl.DataFrame({"player_id": ["p"], "course": [home]})
    assert home_cards(rounds, homes, own)["course"].to_list() == kept
    assert home_cards(rounds, homes, own).columns == rounds.columns
