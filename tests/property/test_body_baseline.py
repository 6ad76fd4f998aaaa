"""Answers against the own normal: invariances, ordinal floors, missing days, and nothing that looks ahead."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pipelines.measures.body.answering import adherence, silent_days, week_mean
from pipelines.measures.body.baseline import SPREAD_FLOOR, WITHIN_DAYS, above_normal, held_normal, own_normal
from pipelines.measures.body.items import ITEMS, STATE_ITEMS, body_items, display_percentile, still_above, week_starts, week_sum
from pipelines.measures.load.grid import DayGrid, Readings, readings
from schemas.regions import REGIONS

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
def test_a_players_own_level_does_not_matter_away_from_the_end_of_the_scale(seed: int) -> None:
    one = answers(seed, level=5.0)
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
        assert day - days[0] <= WITHIN_DAYS[int(found.n_answers[player, day])]
        assert found.recent.value[player, day] == pytest.approx(told.value[player, days].mean())


def test_answers_of_which_the_sore_ones_come_seldom_are_told_and_the_same_share_of_usual_ones_is_not() -> None:
    told = answers(12, n_players=8, n_days=160, level=3.0, share=1.0)
    seldom = told.known & (np.arange(160) < 130) | (np.arange(160) % 5 == 0) & (np.arange(160) >= 130)
    sore = told.value + np.where(np.arange(160) >= 130, 3.0, 0.0)
    usual, sore = (Readings(np.where(seldom, value, 0.0), seldom) for value in (told.value, sore))
    lowest = [above_normal(one, own_normal(one)).p_value for one in (usual, sore)]
    of_usual, of_sore = (np.where(p.known, p.value, 1.0)[:, 130:].min(axis=1) for p in lowest)
    assert (of_sore < 1e-5).all()
    assert (of_usual > 1e-3).all()


def test_a_narrow_spread_at_the_end_of_the_scale_is_the_squads() -> None:
    told = answers(13, n_players=9, n_days=120, share=1.0, level=4.0)
    told.value[0] = np.clip(told.value[0] - 4.0, 0.0, None)
    told.value[1] = np.round(4.0 + 0.3 * (told.value[1] - 4.0))
    spread = own_normal(told).spread[:, -1]
    assert spread[0] >= 0.95 * np.median(spread[2:]) > 1.2 * told.value[0].std()
    assert spread[1] < np.median(spread[2:])


def test_the_normal_leaves_the_last_three_weeks_out() -> None:
    told = answers(3, n_players=1, share=1.0)
    changed = Readings(told.value.copy(), told.known)
    changed.value[0, -21:] = 10.0
    assert own_normal(changed).mean.value[0, -1] == own_normal(told).mean.value[0, -1]


def test_fourteen_answers_are_needed() -> None:
    told = Readings(np.full((1, 40), 2.0), np.ones((1, 40), dtype=bool))
    known = own_normal(told).mean.known[0]
    assert not known[33]
    assert known[34]


def test_the_spread_has_a_floor_and_a_one_among_zeros_is_not_news() -> None:
    zeros = Readings(np.zeros((1, 120)), np.ones((1, 120), dtype=bool))
    zeros.value[0, 100] = 1.0
    normal = own_normal(zeros)
    assert normal.spread[0, -1] == pytest.approx(SPREAD_FLOOR)
    assert above_normal(zeros, normal).p_value.value[0, 100] > 0.05


def test_squad_members_lend_their_spread_to_a_player_with_few_distinct_answers() -> None:
    told = answers(4, n_players=9, n_days=40, share=1.0)
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


def test_the_own_normal_is_what_a_loop_over_the_days_finds() -> None:
    told = answers(11, n_players=5, n_days=130, share=0.5)
    told.value[4] = np.where(told.known[4], 3.0, 0.0)  # always the same answer
    found = own_normal(told)
    checked = 0
    for day in range(130):
        window = [told.value[player, max(day - 104, 0) : max(day - 20, 0)] for player in range(5)]
        present = [told.known[player, max(day - 104, 0) : max(day - 20, 0)] for player in range(5)]
        own = [value[known] for value, known in zip(window, present, strict=True)]
        variances = sorted(max(float(np.var(one, ddof=1)), SPREAD_FLOOR**2) for one in own if one.size >= 14)
        squad = variances[(len(variances) - 1) // 2] if variances else SPREAD_FLOOR**2
        for player, one in enumerate(own):
            assert found.n[player, day] == one.size
            assert found.mean.known[player, day] == (one.size >= 14)
            if one.size < 14:
                continue
            variance = float(np.var(one, ddof=1))
            informed = (20 * squad + (one.size - 1) * variance) / (20 + one.size - 1)
            assert found.mean.value[player, day] == pytest.approx(one.mean())
            least = squad if one.mean() < 2.0 * squad**0.5 else SPREAD_FLOOR**2
            assert found.spread[player, day] == pytest.approx(max(informed, variance, least) ** 0.5)
            checked += 1
    assert checked > 250


def test_how_far_the_last_answers_lie_above_is_what_a_loop_over_them_finds() -> None:
    """The run of three, five or eight that lies farthest, of answers of the last 14, 18 or 24 days."""
    told = answers(12, n_players=3, n_days=120, share=0.55)
    told.value[0, 80:] += np.where(told.known[0, 80:], 3.0, 0.0)
    normal = own_normal(told)
    found = above_normal(told, normal)
    runs = set()
    for player, day in np.argwhere(told.known):
        days = np.flatnonzero(told.known[player, : day + 1])
        best: tuple[float, float, int] | None = None
        for size, within in ((3, 14), (5, 18), (8, 24)):
            if days.size >= size and day - days[-size] <= within and normal.mean.known[player, day]:
                mean = told.value[player, days[-size:]].mean()
                alike = np.mean([[0.45 ** abs(int(a) - int(b)) for a in days[-size:]] for b in days[-size:]])
                error = normal.spread[player, day] * (alike + 2.3 / normal.n[player, day]) ** 0.5
                score = (mean - normal.mean.value[player, day]) / error
                best = (score, mean, size) if best is None or score > best[0] else best
        assert found.score.known[player, day] == found.recent.known[player, day] == (best is not None)
        if best is None:
            continue
        score, mean, size = best
        chance = min(3.0 * stats.t.sf(score, normal.n[player, day] + 19), 1.0) if score >= 1.0 else 1.0
        assert found.score.value[player, day] == pytest.approx(score)
        assert found.recent.value[player, day] == pytest.approx(mean)
        assert found.excess.value[player, day] == pytest.approx(mean - normal.mean.value[player, day])
        assert found.p_value.value[player, day] == pytest.approx(chance)
        assert found.n_answers[player, day] == size
        runs.add((size, score >= 1.0))
    assert runs == {(size, clear) for size in (3, 5, 8) for clear in (True, False)}
    few = Readings(told.value[:1, :4] * 0, np.array([[True, False, True, False]]))
    assert not above_normal(few, own_normal(few)).score.known.any()


def test_place_silence_and_share_of_answers_are_what_loops_find() -> None:
    told = answers(13, n_players=3, n_days=100, share=0.5)
    told.known[2, :20], told.value[2, :20] = False, 0.0
    percentile, silent, share, week = (
        display_percentile(told, 5), silent_days(told.known), adherence(told.known), week_mean(told),
    )  # fmt: skip
    for player in range(3):
        for day in range(100):
            begun = told.known[player, : day + 1].any()
            since = next((back for back in range(day + 1) if told.known[player, day - back]), None)
            assert silent.known[player, day] == begun
            assert not begun or silent.value[player, day] == since
            assert share.known[player, day] == (begun and day >= 27)
            if share.known[player, day]:
                assert share.value[player, day] == pytest.approx(told.known[player, day - 27 : day + 1].mean())
            last = told.value[player, max(day - 6, 0) : day + 1][told.known[player, max(day - 6, 0) : day + 1]]
            assert week.known[player, day] == (last.size >= 4)
            assert last.size < 4 or week.value[player, day] == pytest.approx(last.mean())
            before = told.value[player, max(day - 60, 0) : day][told.known[player, max(day - 60, 0) : day]]
            assert percentile.known[player, day] == (day >= 5 and told.known[player, day] and before.size >= 14)
            if percentile.known[player, day]:
                today = told.value[player, day]
                rank = (before < today).sum() + (before == today).sum() / 2 + 0.5
                assert percentile.value[player, day] == pytest.approx(100 * rank / (before.size + 1))
    assert not display_percentile(told, 99).known[:, :99].any()


def test_each_item_is_read_so_that_worse_is_higher() -> None:
    rows = pl.DataFrame(
        {"player_id": ["a"], "on_date": [date(2026, 1, 2)], "sleep_h": [7.5], "fatigue": [4], "stiff_neck": [None]}
    )
    items = {item.name: item for item in body_items(rows, DayGrid(("a",), date(2026, 1, 1), date(2026, 1, 3)),
                                                    ("sleep_h", "fatigue", "stiff_neck"))}  # fmt: skip
    assert [(name, item.sign, item.region) for name, item in items.items()] == [
        ("sleep_h", -1.0, ""), ("fatigue", 1.0, ""), ("stiff_neck", 1.0, "neck"),
    ]  # fmt: skip
    assert [item.answers.value[0, 1] for item in items.values()] == [-7.5, 4.0, 0.0]
    assert [item.answers.known.sum() for item in items.values()] == [1, 1, 0]
    assert set(ITEMS) == {*STATE_ITEMS, *(f"stiff_{region}" for region in REGIONS)}


@pytest.mark.parametrize("first", [date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 8)])
def test_weeks_begin_on_mondays_and_hold_all_days_of_the_grid(first: date) -> None:
    grid = DayGrid(("a",), first, first + timedelta(days=19))
    starts, mondays = week_starts(grid)
    days = [first + timedelta(days=column) for column in range(20)]
    assert [first + timedelta(days=monday) for monday in mondays] == sorted({day - timedelta(days=day.weekday()) for day in days})
    assert starts.tolist() == [max(monday, 0) for monday in mondays]
    cells = np.arange(20.0)[None]
    of_week = [sum(at for at, day in enumerate(days) if day - timedelta(days=day.weekday()) == first + timedelta(days=monday))
               for monday in mondays]  # fmt: skip
    assert week_sum(cells, starts)[0].tolist() == of_week


def test_answers_against_the_held_normal_are_told_anew_only_of_those_whose_normal_is_held() -> None:
    rng = np.random.default_rng(3)
    known, value = rng.random((6, 500)) < 0.7, np.clip(np.rint(rng.normal(2, 1, (6, 500))), 0, 10)
    value[::3, 330:] += 4
    told = readings(value, known)
    free = own_normal(told)
    above = above_normal(told, free)
    held = held_normal(told, free, above).normal
    whole, some = above_normal(told, held), still_above(told, free, held, above)
    assert 0 < (held.mean.value != free.mean.value).any(axis=1).sum() < 6
    for name in ("recent", "excess", "score", "p_value"):
        for array in ("value", "known"):
            np.testing.assert_array_equal(getattr(getattr(some, name), array), getattr(getattr(whole, name), array))
    np.testing.assert_array_equal(some.n_answers, whole.n_answers)
    np.testing.assert_array_equal(some.alike, whole.alike)
