"""Windows over days: two independent ways agree, unknown days never count, and nothing looks ahead."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.load.grid import DayGrid, Readings, day_grid
from pipelines.measures.load.windows import (
    days_known,
    days_since,
    earlier,
    ewma,
    largest_before,
    percentile_in_own_history,
    run_length,
    trailing_mean,
    trailing_sum,
)

SEEDS = st.integers(0, 2**31)


def some(seed: int, n_players: int = 3, n_days: int = 60, share: float = 0.75) -> Readings:
    rng = np.random.default_rng(seed)
    known = rng.random((n_players, n_days)) < share
    return Readings(np.where(known, rng.integers(0, 200, known.shape), 0).astype(float), known)


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.integers(1, 30), st.integers(1, 10))
def test_trailing_sum_agrees_with_a_loop(seed: int, days: int, at_least: int) -> None:
    daily = some(seed)
    found = trailing_sum(daily, days, at_least)
    for player, day in ((0, 0), (1, 17), (2, 59)):
        window = slice(max(day - days + 1, 0), day + 1)
        kept = daily.value[player, window][daily.known[player, window]]
        assert found.known[player, day] == (kept.size >= at_least)
        if kept.size >= at_least:
            assert found.value[player, day] == pytest.approx(kept.sum() * days / kept.size)


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.integers(2, 30))
def test_ewma_agrees_with_its_weights(seed: int, span: int) -> None:
    daily = some(seed)
    weight = 2 / (span + 1)
    found = ewma(daily, span)
    for day in (0, 7, 59):
        weights = weight * (1 - weight) ** np.arange(day, -1, -1) * daily.known[0, : day + 1]
        assert found.known[0, day] == bool(weights.any())
        if weights.any():
            assert found.value[0, day] == pytest.approx((weights @ daily.value[0, : day + 1]) / weights.sum())


@settings(max_examples=20, deadline=None)
@given(SEEDS)
def test_nothing_looks_ahead(seed: int) -> None:
    daily, cut = some(seed), 40
    past = Readings(daily.value[:, :cut], daily.known[:, :cut])
    for measure in (
        lambda r: trailing_sum(r, 7, 5),
        lambda r: ewma(r, 28),
        lambda r: largest_before(r, 30),
        lambda r: percentile_in_own_history(r, 10),
        lambda r: earlier(r, 7),
    ):
        whole, part = measure(daily), measure(past)
        assert np.array_equal(whole.known[:, :cut], part.known)
        assert whole.value[:, :cut] == pytest.approx(part.value)


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.floats(0.1, 10))
def test_scaling_a_load_scales_its_means_and_leaves_its_place(seed: int, factor: float) -> None:
    daily = some(seed)
    scaled = Readings(daily.value * factor, daily.known)
    assert trailing_mean(scaled, 28, 10).value == pytest.approx(trailing_mean(daily, 28, 10).value * factor)
    assert percentile_in_own_history(scaled, 10).value == pytest.approx(percentile_in_own_history(daily, 10).value)


def test_a_constant_load_has_a_constant_mean_whatever_is_missing() -> None:
    daily = some(1)
    flat = Readings(np.where(daily.known, 100.0, 0.0), daily.known)
    mean = ewma(flat, 28)
    assert mean.value[mean.known] == pytest.approx(100.0)


def test_a_rest_day_is_zero_and_a_missing_day_is_not() -> None:
    rest = Readings(np.array([[100.0] * 6 + [0.0]]), np.ones((1, 7), dtype=bool))
    missing = Readings(rest.value, np.array([[True] * 6 + [False]]))
    assert trailing_mean(rest, 7, 5).value[0, -1] == pytest.approx(600 / 7)
    assert trailing_mean(missing, 7, 5).value[0, -1] == pytest.approx(100.0)


def test_days_since_is_unknown_across_an_unknown_day() -> None:
    event = np.array([[True, False, False, False, True, False]])
    known = np.array([[True, True, False, True, True, True]])
    found = days_since(event, known)
    assert found.known[0].tolist() == [True, True, False, False, True, True]
    assert found.value[0, [0, 1, 4, 5]].tolist() == [0, 1, 0, 1]


def test_run_length_counts_back_to_the_last_break() -> None:
    assert run_length(np.array([[True, True, False, True]]))[0].tolist() == [1, 2, 0, 1]


def test_coverage_counts_days_before_the_beginning_as_unknown() -> None:
    assert days_known(np.ones((1, 10), dtype=bool), 7)[0].tolist() == [1, 2, 3, 4, 5, 6, 7, 7, 7, 7]


def test_the_percentile_is_of_earlier_values_only_with_ties_half() -> None:
    found = percentile_in_own_history(Readings(np.array([[1.0, 3.0, 2.0, 2.0]]), np.ones((1, 4), dtype=bool)), 2)
    assert found.known[0].tolist() == [False, False, True, True]
    assert found.value[0, 2:].tolist() == [50.0, 50.0]


def test_frame_to_grid_and_back() -> None:
    rows = pl.DataFrame(
        {
            "player_id": ["b", "a", "z"],
            "on_date": [dt.date(2026, 1, 2), dt.date(2026, 1, 1), dt.date(2026, 1, 1)],
            "x": [5.0, None, 1.0],
        }
    )
    grid = DayGrid(("a", "b"), dt.date(2026, 1, 1), dt.date(2026, 1, 2))
    back = grid.frame(grid.spread(rows, ("x",)))
    assert back["x"].to_list() == [None, None, None, 5.0]
    assert back["player_id"].to_list() == ["a", "a", "b", "b"]
    with pytest.raises(ValueError, match="before"):
        day_grid(rows["player_id"], dt.date(2026, 1, 2), dt.date(2026, 1, 1))
