from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pipelines.measures.shift.dating import change_points, shift_began_at
from pipelines.measures.shift.run import ENDINGS, ChartRun, chart_run
from pipelines.measures.shift.self_starting import ChartBaseline, ChartSettings, learned
from pipelines.measures.shift.steady_state import chart_p_value, steep_p_value
from pipelines.measures.trend.series import SeriesBatch, packed


def squad(values: np.ndarray, gap_days: float = 2.0) -> SeriesBatch:
    """Columns of values as series, a session every ``gap_days``."""
    n, series = values.shape
    days = np.tile(np.arange(n) * gap_days, series)
    zero = np.zeros(n * series)
    return packed(np.repeat(np.arange(series), n), series, days, values.T.ravel(), zero, zero)


def charted(values: np.ndarray, **settings: float) -> ChartRun:
    return chart_run(squad(values), np.ones_like(values), ChartSettings(**settings))  # type: ignore[arg-type]


def test_score_is_the_predictive_t_of_the_earlier_sessions() -> None:
    # Without the squad's prior: t = (x - m) / (s sqrt(1 + 1/n)) with n - 1 degrees of freedom; here (2, 1, 3, 2.5) then 3.1.
    settings = ChartSettings(prior_count=1e-9, clip=10.0, baseline_clip=1e9, memory=1e9)
    normal = ChartBaseline.unknown(1, settings)
    earlier = np.array([2.0, 1.0, 3.0, 2.5])
    for value in earlier:
        normal.learn(np.array([value]), np.ones(1), np.ones(1, dtype=bool), settings)
    t = (3.1 - earlier.mean()) / (earlier.std(ddof=1) * np.sqrt(1.25))
    expected = stats.norm.ppf(stats.t.cdf(t, 3))
    assert normal.scores(np.array([3.1]), np.ones(1), settings)[0] == pytest.approx(expected, rel=1e-6)


def test_a_series_learned_alone_is_that_learned_beside_others_to_the_last_digit() -> None:
    rng = np.random.default_rng(8)
    values, variances = 3.0 * rng.standard_t(3, (90, 2)), rng.uniform(0.5, 2.0, (90, 2))
    both = ChartBaseline.unknown(2, ChartSettings())
    for value, variance in zip(values, variances, strict=True):
        both.learn(value, variance, np.ones(2, dtype=bool), ChartSettings())
    found = learned(values[:, 1].tolist(), variances[:, 1].tolist(), ChartSettings())
    assert found == tuple(float(getattr(both, name)[1]) for name in ("mean", "precision", "squares", "count", "own"))


def test_scores_are_standard_normal_when_nothing_happens() -> None:
    values = np.random.default_rng(1).standard_normal((60, 3000))
    run = charted(values, clip=8.0, baseline_clip=1e9)
    scores = run.scores[10:].ravel()
    assert scores.mean() == pytest.approx(0.0, abs=0.01)
    assert scores.std() == pytest.approx(1.0, abs=0.01)


def test_a_session_with_few_shots_counts_less() -> None:
    values = np.random.default_rng(2).standard_normal((30, 1))
    values[-1] = 3.0
    precise, vague = np.ones((30, 1)), np.ones((30, 1))
    vague[-1] = 9.0
    one, other = (chart_run(squad(values), variance, ChartSettings(clip=9.0)) for variance in (precise, vague))
    assert one.scores[-1, 0] > 2.0
    assert other.scores[-1, 0] == pytest.approx(one.scores[-1, 0] / 3.0, rel=0.2)


def test_one_odd_session_raises_no_alarm() -> None:
    values = np.random.default_rng(3).standard_normal((40, 200))
    values[30] += 50.0
    before, after = charted(values[:30]), charted(values[:31])
    assert np.all(after.up[30] <= before.up[29] + 1.5 + 1e-9)


def test_nothing_is_said_while_the_normal_is_being_learned() -> None:
    values = np.random.default_rng(4).standard_normal((20, 50))
    run = charted(values, learning_sessions=8)
    assert np.all(run.up[:8] == 0.0)
    assert np.any(run.up[8:] > 0.0)


def test_while_an_episode_is_open_sessions_are_scored_against_the_normal_that_it_left() -> None:
    """And so are those of players beside it that have none open; to 15 %, for t of some forty sessions is no normal yet."""
    values = np.random.default_rng(15).standard_normal((90, 30))
    values[45:, ::2] += 3.0
    run = charted(values, clip=8.0, settle_days=1e9)
    assert (run.episode[60:, ::2] == 1).all()
    expected = (values - run.normal) / run.normal_sd
    np.testing.assert_allclose(run.scores[60:], expected[60:], rtol=0.15, atol=0.05)
    assert run.scores[60:, ::2].mean() > 2.0


def test_shift_is_found_dated_and_then_the_new_normal() -> None:
    values = np.random.default_rng(5).standard_normal((90, 40))
    values[40:] -= 3.0
    run = charted(values)
    first = {shift.series: shift for shift in reversed(run.shifts)}
    assert len(first) == 40
    assert np.median([shift.began_step for shift in first.values()]) == 40
    assert sum(abs(shift.began_step - 40) <= 3 for shift in first.values()) >= 36
    assert not any(shift.upward for shift in first.values())
    np.testing.assert_allclose(run.normal[-1].mean(), -3.0, atol=0.1)


def test_squad_variance_stands_in_while_own_sessions_are_few() -> None:
    settings = ChartSettings()
    normal = ChartBaseline.unknown(1, settings)
    normal.learn(np.array([5.0]), np.array([4.0]), np.ones(1, dtype=bool), settings)
    assert normal.sd(np.array([4.0]))[0] == pytest.approx(2.0)


def test_charts_do_not_look_ahead() -> None:
    values = np.random.default_rng(6).standard_normal((70, 20))
    values[30:] += 2.5
    whole, short = charted(values), charted(values[:45])
    np.testing.assert_array_equal(whole.up[:45], short.up)
    assert [shift for shift in whole.shifts if shift.signal_step < 45] == list(short.shifts)


def test_without_a_change_the_sum_dates_the_shift() -> None:
    assert change_points(np.zeros(4), 1.0) == []
    assert shift_began_at(np.zeros(20), 1.0, upward=True, since=13) == 13


def test_the_cuts_are_the_cheapest_of_all() -> None:
    # every way to cut a short series, tried one by one
    rng = np.random.default_rng(11)
    for _ in range(20):
        values = rng.standard_normal(11) + np.repeat(rng.normal(0, 3, 2), (5, 6))

        def cost(cuts: tuple[int, ...], values: np.ndarray = values) -> float:
            scaled = values - values.mean()
            parts = np.split(scaled, cuts)
            return sum(float(((part - part.mean()) ** 2).sum()) for part in parts) + 3 * np.log(11) * len(cuts)

        ways = [()] + [(a,) for a in range(3, 9)] + [(a, b) for a in range(3, 6) for b in range(a + 3, 9)]
        assert tuple(change_points(values, 1.0)) == min(ways, key=cost)


def test_the_normal_is_frozen_while_an_episode_is_open() -> None:
    values = np.random.default_rng(7).standard_normal((60, 30))
    values[30:, :] -= np.clip(np.arange(30) / 10.0, 0.0, 3.0)[:, None]  # a slow fall that goes on
    run = charted(values, settle_days=1000.0)
    is_open = run.episode[:-1] < 0
    np.testing.assert_array_equal(np.diff(run.normal, axis=0)[1:][is_open[:-1] & is_open[1:]], 0.0)
    assert (run.episode[-1] < 0).mean() >= 0.9
    assert np.abs(run.normal[-1] - values[:30].mean(axis=0)).mean() < 0.15


def test_chances_hold_although_the_normal_is_frozen_while_an_episode_is_open() -> None:
    """Of sums against the frozen normal four times as many passed .0005 by chance."""
    values = np.random.default_rng(6).standard_normal((80, 1200))
    run = charted(values)
    p_values = chart_p_value(np.stack([run.up, run.down])[:, 8:], 0.0)
    assert np.mean(p_values <= 0.004) == pytest.approx(0.004, abs=0.0015)
    assert np.mean(p_values <= 0.0005) <= 0.0008


def test_an_episode_ends_when_the_level_is_back_and_the_normal_is_the_old_one() -> None:
    values = np.random.default_rng(8).standard_normal((90, 30))
    values[40:55] -= 3.0
    run = charted(values)
    assert (run.ended == ENDINGS.index("back")).any(axis=0).mean() >= 0.8
    assert np.median(np.abs(run.normal[-1])) < 0.3


def test_an_episode_that_stays_is_lasting_after_six_weeks() -> None:
    values = np.random.default_rng(9).standard_normal((90, 30))
    values[40:] += 3.0
    run = charted(values)
    lasting = run.ended == ENDINGS.index("lasting")
    assert lasting.any(axis=0).all()
    opened, ended = np.argmax(run.episode > 0, axis=0), np.argmax(lasting, axis=0)
    assert np.all(2 * (ended - opened) >= 42)
    np.testing.assert_allclose(run.normal[-1].mean(), 3.0, atol=0.15)


@pytest.mark.parametrize("back_at", [60, 61, 62])
def test_a_level_that_comes_back_shortly_before_six_weeks_are_over_has_not_lasted(back_at: int) -> None:
    """Most of the last three weeks lay beyond the normal: it was forgotten, and the return told as a shift of its own."""
    values = np.random.default_rng(9).standard_normal((110, 300))
    values[40:back_at] += 4.0
    run = charted(values)
    assert (run.ended == ENDINGS.index("lasting")).any(axis=0).mean() <= 0.15
    assert (run.episode[back_at + 12 :] < 0).any(axis=0).mean() <= 0.15


def test_who_comes_once_a_week_has_a_level_that_lasts_after_eight_sessions_or_four_months() -> None:
    """Six weeks hold six sessions of theirs: a rise that was still being learned was called the new normal."""
    values = np.random.default_rng(9).standard_normal((90, 30))
    values[40:] += 3.0
    for every, fewest in ((7.0, 8), (20.0, 6)):
        run = chart_run(squad(values, every), np.ones_like(values), ChartSettings())
        lasting = run.ended == ENDINGS.index("lasting")
        waited = np.argmax(lasting, axis=0) - np.argmax(run.episode > 0, axis=0)
        assert lasting.any(axis=0).all()
        assert waited.min() == np.median(waited) == fewest


def test_what_is_expected_is_no_change() -> None:
    values = np.random.default_rng(10).standard_normal((80, 40))
    course = 0.04 * np.arange(80)[:, None] * np.ones((80, 40))
    batch = squad(values + course)
    told = chart_run(batch, np.ones_like(values), ChartSettings(), course)
    plain = charted(values)
    np.testing.assert_allclose(told.up, plain.up, atol=1e-9)
    np.testing.assert_allclose(told.normal, plain.normal + course, atol=1e-9)
    assert (chart_run(batch, np.ones_like(values)).episode > 0).any(axis=0).mean() > 0.8


def test_steep_sums_are_those_of_the_scores_with_an_allowance_of_one() -> None:
    """Added up by hand from the scores, before an episode opens: then scores are about the normal that it froze."""
    values = np.random.default_rng(4).standard_normal((60, 200))
    run, settings = charted(values), ChartSettings()
    calm = (run.episode == 0).all(axis=0)
    up, down = np.zeros(200), np.zeros(200)
    for step in range(settings.learning_sessions, 60):
        up, down = np.maximum(0.0, up + run.scores[step] - 1.0), np.maximum(0.0, down - run.scores[step] - 1.0)
        assert run.steep_up[step, calm] == pytest.approx(up[calm])
        assert run.steep_down[step, calm] == pytest.approx(down[calm])


def test_steep_sums_are_bounded_and_begin_anew_with_an_episode_that_ended() -> None:
    run = charted(np.concatenate([np.zeros((20, 1)), np.full((30, 1), 6.0)]))
    end = int(np.flatnonzero(run.ended[:, 0])[0])
    assert run.steep_up[:, 0].max() == ChartSettings().most / 2.0
    assert run.steep_up[end, 0] > 0.0
    assert run.steep_up[end + 1, 0] == run.steep_down[end + 1, 0] == 0.0


def test_a_large_shift_is_told_by_four_sessions_where_the_other_sum_needs_more() -> None:
    """Simulated, 2,000 series: 20 sessions, then a level two and a half standard deviations lower; limit .0005."""
    values = np.random.default_rng(5).standard_normal((26, 2000))
    values[20:] -= 2.5
    run = charted(values)
    by_plain, by_steep = chart_p_value(run.down, 0.0) <= 0.0005, steep_p_value(run.steep_down, 0.0) <= 0.0005
    assert by_plain[23].mean() < 0.25
    assert by_steep[23].mean() > 0.6


def test_by_chance_steep_sums_are_large_as_often_as_they_say() -> None:
    """Simulated, 2,000 series of 80 sessions in which nothing happens, once own sessions tell what is normal."""
    run = charted(np.random.default_rng(6).standard_normal((80, 2000)))
    for limit in (0.02, 0.005):
        told = np.mean([(steep_p_value(one[40:], 0.0) <= limit).mean() for one in (run.steep_up, run.steep_down)])
        assert 0.3 * limit < told < 1.3 * limit
