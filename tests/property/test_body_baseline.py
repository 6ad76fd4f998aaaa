"""Answers against the own normal: invariances, ordinal floors, missing days, and nothing that looks ahead."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.body.answering import adherence, silent_days, week_mean
from pipelines.measures.body.baseline import SPREAD_FLOOR, above_normal, own_normal
from pipelines.measures.body.items import display_percentile
from pipelines.measures.load.grid import Readings, readings

SEEDS = st.integers(0, 2**31)


def answers(seed: int, n_players: int = 6, n_days: int = 140, share: float = 0.8, level: float = 2.0) -> Readings:
    rng = np.random.default_rng(seed)
    value = np.clip(np.round(rng.normal(level, 0.9, (n_players, n_days))), 0, 10)
    known = rng.random(value.shape) < share
    return Readings(np.where(known, value, 0.0), known)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_nothing_looks_ahead(seed: int) -> None:
    whole, cut = answers(seed), 100
    past = Readings(whole.value[:, :cut], whole.known[:, :cut])
    full, part = above_normal(whole, own_normal(whole)), above_normal(past, own_normal(past))
    assert np.array_equal(full.score.known[:, :cut], part.score.known)
    assert full.score.value[:, :cut] == pytest.approx(part.score.value)
    assert full.p_value.value[:, :cut] == pytest.approx(part.p_value.value)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_a_players_own_level_does_not_matter(seed: int) -> None:
    one = answers(seed)
    higher = Readings(np.where(one.known, one.value + 3, 0.0), one.known)
    a, b = above_normal(one, own_normal(one)), above_normal(higher, own_normal(higher))
    assert a.score.value == pytest.approx(b.score.value, abs=1e-8)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_the_recent_answers_are_those_that_a_loop_finds(seed: int) -> None:
    told = answers(seed, n_players=2, n_days=60, share=0.7)
    found = above_normal(told, own_normal(told))
    for player, day in np.argwhere(found.score.known):
        days = np.flatnonzero(told.known[player, : day + 1])[-int(found.n_answers[player, day]) :]
        assert day - days[0] <= found.n_answers[player, day] + 6
        assert found.recent.value[player, day] == pytest.approx(told.value[player, days].mean())


def test_the_normal_leaves_the_last_week_out() -> None:
    told = answers(3, n_players=1, share=1.0)
    changed = Readings(told.value.copy(), told.known)
    changed.value[0, -7:] = 10.0
    assert own_normal(changed).mean.value[0, -1] == own_normal(told).mean.value[0, -1]


def test_fourteen_answers_are_needed() -> None:
    told = Readings(np.full((1, 40), 2.0), np.ones((1, 40), dtype=bool))
    known = own_normal(told).mean.known[0]
    assert not known[19]
    assert known[20]


def test_the_spread_has_a_floor_and_a_one_among_zeros_is_not_news() -> None:
    zeros = Readings(np.zeros((1, 120)), np.ones((1, 120), dtype=bool))
    zeros.value[0, 100] = 1.0
    normal = own_normal(zeros)
    assert normal.spread[0, -1] == pytest.approx(SPREAD_FLOOR)
    assert above_normal(zeros, normal).p_value.value[0, 100] > 0.05


def test_squad_members_lend_their_spread_to_a_player_with_few_distinct_answers() -> None:
    told = answers(4, n_players=9, n_days=30, share=1.0)
    told.value[0] = 2.0
    alone = Readings(told.value[:1], told.known[:1])
    assert own_normal(told).spread[0, -1] > own_normal(alone).spread[0, -1]


def test_a_lasting_rise_is_seen_within_days_and_one_bad_day_is_not() -> None:
    told = answers(5, n_players=5, share=1.0)
    told.value[0, 120:] = np.minimum(told.value[0, 120:] + 3, 10)
    told.value[1, 120] = 6
    above = above_normal(told, own_normal(told))
    assert above.p_value.value[0, 123] < 1e-4
    assert above.p_value.value[1, 120] > 1e-3


@settings(max_examples=10, deadline=None)
@given(SEEDS)
def test_false_alarms_keep_to_their_rate(seed: int) -> None:
    told = answers(seed, n_players=60, n_days=120)
    above = above_normal(told, own_normal(told))
    judged = above.p_value.value[above.score.known]
    assert np.mean(judged < 0.01) < 0.02


def test_the_display_percentile_never_reaches_its_ends() -> None:
    found = display_percentile(answers(6), 0)
    assert found.value[found.known].min() > 0
    assert found.value[found.known].max() < 100


def test_silence_and_adherence_begin_with_the_first_answer() -> None:
    answered = np.zeros((1, 60), dtype=bool)
    answered[0, 10] = True
    answered[0, 40:50] = True
    assert not silent_days(answered).known[0, 9]
    assert silent_days(answered).value[0, 59] == 10
    assert not adherence(answered).known[0, 20]
    assert adherence(answered).value[0, 59] == pytest.approx(10 / 28)


def test_a_weekly_mean_needs_four_answers() -> None:
    told = readings(np.full((1, 7), 3.0), np.array([[True, True, True, False, False, False, True]]))
    assert not week_mean(told).known[0, 2]
    assert week_mean(told).value[0, 6] == 3.0
