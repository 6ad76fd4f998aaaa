"""Scatter: what a pattern must not depend on."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.scatter import ellipse, is_short_shot, mishit_rate, shot_pattern, tail_spread
from pipelines.measures.scatter.pattern import shot_patterns
from pipelines.measures.scatter.tails import with_sessions


def drives(n: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.multivariate_normal([220.0, 1.0], [[120.0, 6.0], [6.0, 20.0]], n)


@settings(max_examples=12, deadline=None)
@given(st.integers(10, 60), st.integers(0, 1000), st.floats(0.2, 5.0), st.floats(-50.0, 50.0))
def test_units_and_origin_do_not_matter(n: int, seed: int, factor: float, shift: float) -> None:
    shots = drives(n, seed)
    plain, moved = shot_pattern(shots), shot_pattern(shots * factor + shift)
    assert plain is not None
    assert moved is not None
    np.testing.assert_allclose(moved.middle, plain.middle * factor + shift, rtol=1e-4, atol=1e-4)
    np.testing.assert_allclose(moved.sd, plain.sd * factor, rtol=1e-4)


@settings(max_examples=10, deadline=None)
@given(st.integers(20, 60), st.integers(0, 1000))
def test_one_wild_shot_does_not_rule_the_pattern(n: int, seed: int) -> None:
    shots = drives(n, seed)
    wild = np.vstack([shots, [[220.0, 90.0]]])
    plain, robust = shot_pattern(shots), shot_pattern(wild)
    assert plain is not None
    assert robust is not None
    assert robust.sd[1] < 1.45 * plain.sd[1] < wild[:, 1].std()
    assert abs(robust.middle[1] - plain.middle[1]) < 0.5 * plain.sd[1] / np.sqrt(n) + 0.3


@settings(max_examples=10, deadline=None)
@given(st.integers(8, 20), st.integers(0, 1000))
def test_the_squad_prior_draws_a_small_group_toward_it(n: int, seed: int) -> None:
    shots = drives(n, seed)
    prior = np.diag([900.0, 400.0])
    alone, with_prior, heavy = (shot_pattern(shots, prior, weight) for weight in (1e-9, 10.0, 1e6))
    assert alone is not None
    assert with_prior is not None
    assert heavy is not None
    np.testing.assert_allclose(heavy.covariance, prior, rtol=1e-3, atol=0.1)
    assert alone.sd[1] < with_prior.sd[1] < heavy.sd[1]


def test_the_errors_shrink_with_the_root_of_the_shots() -> None:
    few, many = shot_pattern(drives(25, 1)), shot_pattern(drives(2500, 1))
    assert few is not None
    assert many is not None
    assert few.log_sd_error / many.log_sd_error == pytest.approx(10.0)


def test_too_few_or_equal_shots_have_no_pattern() -> None:
    assert shot_pattern(drives(7, 0)) is None
    assert shot_pattern(np.ones((20, 2))) is None
    with_gaps = np.vstack([drives(7, 0), np.full((30, 2), np.nan)])
    assert shot_pattern(with_gaps) is None
    with pytest.raises(ValueError, match="shape"):
        shot_pattern(np.ones(5))


def test_axes_of_an_ellipse() -> None:
    turned = ellipse(np.array([[5.0, 3.0], [3.0, 5.0]]), 4.0)
    assert (turned.long_half, turned.short_half) == pytest.approx((2 * np.sqrt(8), 2 * np.sqrt(2)))
    assert turned.tilt_deg == pytest.approx(45.0)


def test_mishits_do_not_lower_their_own_bar() -> None:
    carry = np.array([220.0] * 8 + [120.0] * 7 + [np.nan])
    assert is_short_shot(carry).sum() == 7
    assert not is_short_shot(np.array([np.nan, np.nan])).any()
    assert mishit_rate(0, 0) is None
    low, high = mishit_rate(2, 40), mishit_rate(20, 400)
    assert low is not None
    assert high is not None
    assert high.high - high.low < low.high - low.low
    with pytest.raises(ValueError, match="mishits"):
        mishit_rate(5, 4)


@settings(max_examples=10, deadline=None)
@given(st.integers(10, 60), st.integers(0, 1000), st.floats(0.2, 5.0), st.floats(-50.0, 50.0))
def test_a_spread_with_tails_follows_units_and_origin(n: int, seed: int, factor: float, shift: float) -> None:
    shots = np.random.default_rng(seed).normal(0.0, 4.0, n)
    plain, moved = tail_spread(shots, 0.0, 3.4), tail_spread(shots * factor + shift, shift, 3.4 * factor)
    assert moved.sd == pytest.approx(plain.sd * factor)
    assert (moved.tail_share, moved.log_error) == (pytest.approx(plain.tail_share), pytest.approx(plain.log_error))


@settings(max_examples=10, deadline=None)
@given(st.integers(20, 60), st.integers(0, 1000))
def test_shots_farther_out_widen_the_spread_and_its_tails(n: int, seed: int) -> None:
    shots = np.random.default_rng(seed).normal(0.0, 4.0, n)
    wild = np.concatenate([shots, np.resize([18.0, -20.0], max(n // 7, 1))])
    plain, wider = tail_spread(shots, 0.0, 3.4), tail_spread(wild, 0.0, 3.4)
    assert wider.sd > plain.sd
    assert wider.tail_share > plain.tail_share


def test_a_spread_of_few_shots_is_drawn_to_the_squads() -> None:
    shots = np.random.default_rng(1).normal(0.0, 4.0, 12)
    alone, drawn = tail_spread(shots, 0.0, 3.4), tail_spread(shots, 0.0, 3.4, 6.0, 30.0)
    assert alone.sd < drawn.sd
    assert drawn.log_error < alone.log_error


def sessions_of(n_sessions: int, wobble: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Directions of sessions of 10 to 80 shots, each as wide as its day is, and the number of each shot's session."""
    of = np.repeat(np.arange(n_sessions), rng.integers(10, 80, n_sessions))
    return 4.0 * np.exp(wobble * rng.standard_normal(n_sessions))[of] * rng.standard_normal(of.size), of


@pytest.mark.parametrize(("wobble", "as_shots"), [(0.0, True), (0.2, False)])
def test_the_error_of_a_spread_holds_what_sessions_differ_by(wobble: float, as_shots: bool) -> None:
    """Own simulation: 80 months of ten sessions; the standard deviation of the logarithm of what is told against its error."""
    rng = np.random.default_rng(3)
    months = [sessions_of(10, wobble, rng) for _ in range(80)]
    plain = [tail_spread(values, 0.0, 3.4) for values, _ in months]
    told = [with_sessions(spread, values, 0.0, of) for spread, (values, of) in zip(plain, months, strict=True)]
    true = np.std(np.log([one.sd for one in told]))
    of_shots, of_both = (float(np.sqrt(np.mean([one.log_error**2 for one in found]))) for found in (plain, told))
    assert of_both == pytest.approx(true, rel=0.25)
    assert (of_both < 1.12 * of_shots) == as_shots
    for one, before in zip(told, plain, strict=True):
        assert one.log_error >= before.log_error
        assert one.log_error * one.correlation == pytest.approx(before.log_error * before.correlation)  # the covariance stays


def test_two_sessions_tell_nothing_of_what_sessions_differ_by() -> None:
    rng = np.random.default_rng(4)
    values, of = sessions_of(3, 0.5, rng)
    spread = tail_spread(values, 0.0, 3.4)
    assert with_sessions(spread, values[of < 2], 0.0, of[of < 2]) == spread
    assert with_sessions(spread, values, 0.0, of).log_error > spread.log_error
    assert with_sessions(spread, values, 0.0, 5 * of + 7) == with_sessions(spread, values, 0.0, of)  # numbers are but names


def test_how_far_a_wild_shot_lies_out_makes_no_wide_session() -> None:
    rng = np.random.default_rng(5)
    values, of = sessions_of(6, 0.0, rng)
    out, farther = values.copy(), values.copy()
    out[0], farther[0] = 9.0, 40.0
    spread = tail_spread(out, 0.0, 3.4)
    assert with_sessions(spread, farther, 0.0, of) == with_sessions(spread, out, 0.0, of)


def test_patterns_side_by_side_are_those_alone_to_the_last_digit() -> None:
    """Few shots and many, more of one number than are looked at together; with gaps, without a prior, and without a pattern."""
    sizes = [*range(5, 70, 3), *[48] * 180, 900]
    shots = [drives(n, place) for place, n in enumerate(sizes)]
    for place in range(3, len(shots), 7):
        shots[place][::4, place % 2] = np.nan
    shots[11] = np.ones((30, 2))
    priors = [None if place % 3 else np.diag([90.0 + place, 25.0]) for place in range(len(shots))]
    together = shot_patterns(shots, priors)
    n_known = [int(np.isfinite(one).all(axis=1).sum()) for one in shots]
    assert [found is not None for found in together] == [n >= 8 and place != 11 for place, n in enumerate(n_known)]
    for one, prior, found in zip(shots, priors, together, strict=True):
        alone = shot_pattern(one, prior)
        assert (alone is None) == (found is None)
        if alone is not None and found is not None:
            assert (alone.n, alone.prior_shots) == (found.n, found.prior_shots)
            assert np.array_equal(alone.middle, found.middle)
            assert np.array_equal(alone.scale, found.scale)


def test_a_pattern_is_the_fixed_point_of_its_weights() -> None:
    # Lange, Little and Taylor 1989: weights (df + p)/(df + d^2), the scale their weighted mean square, by matrices here.
    shots = drives(45, 3)
    found = shot_pattern(shots, tolerance=1e-12)
    assert found is not None
    away = shots - found.middle
    weights = 6.0 / (4.0 + np.einsum("ni,ij,nj->n", away, np.linalg.inv(found.scale), away))
    np.testing.assert_allclose(weights @ shots / weights.sum(), found.middle, rtol=1e-9)
    np.testing.assert_allclose((away * weights[:, None]).T @ away / 45, found.scale, rtol=1e-9)
