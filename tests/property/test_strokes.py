"""Expected strokes: symmetries, orders, and a second way of integrating."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression
from scipy.stats import norm, qmc
from scipy.stats import t as student

from pipelines.measures.scatter import tail_spread
from pipelines.measures.strokes import DrivePattern, PatternError, course_strokes, expected_strokes, map_strokes, round_strokes
from pipelines.measures.strokes.baseline import non_decreasing, strokes_to_hole_out
from pipelines.measures.strokes.directions import distribution
from pipelines.measures.strokes.expected import AIMS_DEG
from pipelines.measures.strokes.zones import FAIRWAY, OUT, ROUGH, TREES, WATER, ZoneStrokes, zone_strokes
from schemas.course import OPEN_COURSE, TREE_LINED_COURSE, Course, Side, TeeShot

totals = st.floats(150.0, 290.0)
scatters = st.floats(2.0, 9.0)
mishits = st.floats(0.0, 0.15)
standards = st.sampled_from(["tour", "scratch", "80", "90", "100"])
courses = st.sampled_from([OPEN_COURSE, TREE_LINED_COURSE])


def pattern(total: float, scatter: float, mishit: float = 0.04) -> DrivePattern:
    return DrivePattern(total, 0.0, 0.055 * total, scatter, mishit_rate=mishit)


def one_hole(fairway: float, left: Side, right: Side) -> Course:
    return Course("one", (TeeShot(390.0, fairway, left, right),))


@settings(max_examples=12, deadline=None)
@given(totals, scatters, mishits, standards, courses)
def test_the_parts_add_up(total: float, scatter: float, mishit: float, standard: str, course: Course) -> None:
    found = expected_strokes(pattern(total, scatter, mishit), course, standard)
    assert found.clean + found.trouble == pytest.approx(found.per_tee_shot, abs=1e-9)
    assert found.per_round == pytest.approx(found.per_tee_shot * len(course.tee_shots), abs=1e-9)
    assert min(found.rough, found.trees, found.water, found.out_of_bounds) >= -1e-12


@settings(max_examples=12, deadline=None)
@given(totals, scatters, standards)
def test_on_a_symmetric_hole_the_best_aim_is_the_middle(total: float, scatter: float, standard: str) -> None:
    side = Side(trees_from_m=8.0, out_of_bounds_from_m=30.0)
    assert expected_strokes(pattern(total, scatter), one_hole(32.0, side, side), standard).aim_deg == (0.0,)


@settings(max_examples=12, deadline=None)
@given(totals, scatters, standards)
def test_a_mirrored_hole_costs_the_same_at_the_mirrored_aim(total: float, scatter: float, standard: str) -> None:
    lake, wood = Side(water_from_m=10.0), Side(trees_from_m=12.0)
    here, there = (
        expected_strokes(pattern(total, scatter), one_hole(30.0, *sides), standard) for sides in ((lake, wood), (wood, lake))
    )
    assert here.per_tee_shot == pytest.approx(there.per_tee_shot, abs=1e-9)
    assert here.aim_deg[0] == pytest.approx(-there.aim_deg[0])
    assert here.aim_deg[0] >= 0.0  # away from the water


@settings(max_examples=12, deadline=None)
@given(totals, scatters, mishits, standards, courses, st.floats(0.5, 15.0))
def test_a_wider_fairway_never_costs_strokes(
    total: float, scatter: float, mishit: float, standard: str, course: Course, wider: float
) -> None:
    # everything beside the fairway moves outward with its edge
    wide = replace(course, tee_shots=tuple(replace(shot, fairway_m=shot.fairway_m + wider) for shot in course.tee_shots))
    drives = pattern(total, scatter, mishit)
    assert expected_strokes(drives, wide, standard).per_round <= expected_strokes(drives, course, standard).per_round + 1e-9


@settings(max_examples=12, deadline=None)
@given(totals, scatters, mishits, standards, courses, st.floats(0.1, 2.0))
def test_more_scatter_never_gains_at_the_best_aim(
    total: float, scatter: float, mishit: float, standard: str, course: Course, more: float
) -> None:
    now, then = course_strokes([pattern(total, scatter, mishit), pattern(total, scatter + more, mishit)], course, standard)
    # aims are searched in steps: two best steps may be off by a few thousandths of a round
    assert then.per_round >= now.per_round - 0.02


@settings(max_examples=12, deadline=None)
@given(st.floats(150.0, 260.0), st.floats(2.0, 6.0), standards)
def test_without_trouble_more_distance_never_costs(total: float, scatter: float, standard: str) -> None:
    bare = Course("bare", tuple(TeeShot(length, 60.0) for length in (380.0, 430.0, 500.0)))
    short, far = course_strokes([pattern(total, scatter), pattern(total + 10.0, scatter)], bare, standard)
    assert far.clean < short.clean


@pytest.mark.parametrize("course", [OPEN_COURSE, TREE_LINED_COURSE], ids=lambda course: course.name)
@pytest.mark.parametrize(("total", "scatter", "mishit"), [(235.0, 5.0, 0.05), (205.0, 7.5, 0.1), (270.0, 3.5, 0.0)])
def test_two_ways_of_integrating_agree(course: Course, total: float, scatter: float, mishit: float) -> None:
    # 2^14 scrambled Sobol points over distance, direction and mishits at the same aims, hole by hole
    drives = pattern(total, scatter, mishit)
    found = expected_strokes(drives, course, "80")
    u = qmc.Sobol(4, seed=3).random(2**14)
    widths = np.where(u[:, 3] < drives.tail_share, 4.0, 1.0) / np.sqrt(1.0 + 15.0 * drives.tail_share)
    draws = (norm.ppf(u[:, 0]), norm.ppf(u[:, 1]) * widths, u[:, 2] < mishit)
    values = zone_strokes("80", course.trees_blocked_share)
    pairs = zip(course.tee_shots, found.aim_deg, strict=True)
    strokes = sum(_simulated(shot, aim, drives, values, draws) for shot, aim in pairs)
    assert found.per_round == pytest.approx(strokes, abs=0.06)


def _simulated(shot: TeeShot, aim: float, drives: DrivePattern, values: ZoneStrokes, draws: tuple[np.ndarray, ...]) -> float:
    z, turn, missed = draws
    distance = drives.total_m + drives.total_sd_m * z
    direction = aim + drives.direction_sd_deg * turn
    short = drives.total_m * (drives.mishit_total_share + drives.mishit_total_sd_share * z)
    distance = np.maximum(np.where(missed, short, distance), 15.0)
    wild = aim + drives.mishit_direction_factor * drives.direction_sd_deg * turn
    across = distance * np.tan(np.radians(np.clip(np.where(missed, wild, direction), -80, 80)))
    zone = _zones(shot, across)
    cost = np.choose(np.minimum(zone, WATER), values.at(np.abs(shot.length_m - distance)))
    lost = zone == OUT
    return float((cost[~lost].sum() / len(z) + 2.0 * lost.mean()) / (1.0 - lost.mean()))


def _zones(shot: TeeShot, across: np.ndarray) -> np.ndarray:
    zone = np.full(across.shape, FAIRWAY)
    for side, sign in ((shot.left, -1.0), (shot.right, 1.0)):
        beyond = sign * across - shot.fairway_m / 2.0
        zone = np.where(beyond > 0.0, ROUGH, zone)
        starts = ((side.trees_from_m, TREES), (side.water_from_m, WATER), (side.out_of_bounds_from_m, OUT))
        for start, code in sorted((start, code) for start, code in starts if start is not None):
            zone = np.where(beyond > start, code, zone)
    return zone


@settings(max_examples=10, deadline=None)
@given(totals, scatters, courses)
def test_many_at_once_are_the_same_as_one_by_one(total: float, scatter: float, course: Course) -> None:
    drives = [pattern(total + step, scatter + 0.1 * step) for step in range(20)]
    errors = [PatternError(2.0, 0.1, 0.1, 0.02)] * 20
    together = course_strokes(drives, course, "90", errors)
    for place in (0, 17):
        alone = expected_strokes(drives[place], course, "90", errors[place])
        assert alone.per_round == pytest.approx(together[place].per_round, abs=1e-9)
        assert alone.standard_error == pytest.approx(together[place].standard_error, rel=1e-6)


@pytest.mark.parametrize("part", range(5))
def test_each_part_of_the_error_is_the_slope_along_it(part: int) -> None:
    """A central difference of strokes along one parameter of the pattern, with the best aim taken anew on either side."""
    base, step = pattern(235.0, 5.0, 0.05), (2.0, 0.08, 0.08, 0.015, 0.01)[part]
    sides = [
        replace(
            base,
            total_m=base.total_m + (by if part == 0 else 0.0),
            total_sd_m=base.total_sd_m * np.exp(by if part == 1 else 0.0),
            direction_sd_deg=base.direction_sd_deg * np.exp(by if part == 2 else 0.0),
            mishit_rate=base.mishit_rate + (by if part == 3 else 0.0),
            tail_share=base.tail_share + (by if part == 4 else 0.0),
        )
        for by in (-step, step)
    ]
    low, high = (found.per_tee_shot for found in course_strokes(sides, TREE_LINED_COURSE, "80"))
    error = PatternError(*(step if place == part else 0.0 for place in range(5)))
    told = expected_strokes(base, TREE_LINED_COURSE, "80", error).standard_error
    assert told == pytest.approx(abs(high - low) / 2, rel=0.12, abs=2e-4)


def test_the_standard_error_meets_draws_of_the_pattern() -> None:
    # the delta method against 300 patterns drawn within their errors
    rng = np.random.default_rng(2)
    base, error = pattern(235.0, 5.0, 0.05), PatternError(2.0, 0.08, 0.08, 0.015)
    drawn = [
        replace(
            base,
            total_m=base.total_m + 2.0 * a,
            total_sd_m=base.total_sd_m * np.exp(0.08 * b),
            direction_sd_deg=base.direction_sd_deg * np.exp(0.08 * c),
            mishit_rate=max(base.mishit_rate + 0.015 * d, 0.0),
        )
        for a, b, c, d in rng.standard_normal((300, 4))
    ]
    spread = np.std([found.per_tee_shot for found in course_strokes(drawn, TREE_LINED_COURSE, "80")])
    told = expected_strokes(base, TREE_LINED_COURSE, "80", error).standard_error
    assert told == pytest.approx(spread, rel=0.15)


@given(st.floats(2.0, 8.0))
@settings(max_examples=10, deadline=None)
def test_the_bias_of_a_pattern_is_aimed_away(bias: float) -> None:
    assume(bias < AIMS_DEG[-1])
    straight = pattern(230.0, 5.0)
    pushed = replace(straight, direction_deg=bias)
    assert expected_strokes(pushed, TREE_LINED_COURSE).per_round == expected_strokes(straight, TREE_LINED_COURSE).per_round


def test_patterns_of_different_tails_may_come_together() -> None:
    """Each as if it came alone; the same spread in heavier tails is a narrower core and more balls far away."""
    several = [replace(pattern(230, 5), tail_share=share) for share in (0.0, 0.05, 0.2)]
    together = course_strokes(several, OPEN_COURSE)
    for one, found in zip(several, together, strict=True):
        assert expected_strokes(one, OPEN_COURSE).per_round == pytest.approx(found.per_round, abs=1e-9)
    assert together[0].fairway_share < together[1].fairway_share < together[2].fairway_share


def test_tails_that_come_on_top_cost_strokes() -> None:
    """The same narrow part with more wide shots: its standard deviation grows, and strokes with it."""
    core = 4.0
    drives = [replace(pattern(230, core * np.sqrt(1 + 15 * share)), tail_share=share) for share in (0.0, 0.03, 0.08, 0.15)]
    found = course_strokes(drives, TREE_LINED_COURSE)
    assert (np.diff([one.per_round for one in found]) > 0.3).all()


@pytest.mark.parametrize("tail_share", [0.0, 0.05, 0.2])
def test_shares_and_parts_meet_draws_of_the_pattern(tail_share: float) -> None:
    """Each part is what its zone costs over the fairway at the same distance; out of bounds two strokes and the hole anew."""
    lake = Side(trees_from_m=9.0, water_from_m=20.0)
    course = Course("mixed", (TeeShot(400.0, 30.0, lake, Side(trees_from_m=5.0, out_of_bounds_from_m=18.0)),
                              TeeShot(380.0, 34.0, Side(), lake)), trees_blocked_share=0.5)  # fmt: skip
    drives = DrivePattern(225.0, 0.0, 13.0, 6.0, correlation=-0.4, mishit_rate=0.1, tail_share=tail_share)
    found = expected_strokes(drives, course, "90")
    values = zone_strokes("90", 0.5)
    u = qmc.Sobol(4, seed=5).random(2**15)
    z = norm.ppf(u[:, 0])
    core = 6.0 / np.sqrt(1.0 + 15.0 * tail_share)
    q = norm.ppf(u[:, 1]) * np.where(u[:, 3] < tail_share, 4.0, 1.0)
    direction = core * (-0.4 * z + np.sqrt(1 - 0.16) * q)
    missed = u[:, 2] < 0.1
    distance = np.maximum(np.where(missed, 225.0 * (0.65 + 0.12 * z), 225.0 + 13.0 * z), 15.0)
    turned = np.where(missed, 1.5 * core * q, direction)
    shares, parts, clean = np.zeros(5), np.zeros(5), 0.0
    for shot, aim in zip(course.tee_shots, found.aim_deg, strict=True):
        zone = _zones(shot, distance * np.tan(np.radians(np.clip(aim + turned, -80, 80))))
        costs = values.at(np.abs(shot.length_m - distance))
        played = np.choose(np.minimum(zone, WATER), costs)
        lost = zone == OUT
        hole = (played[~lost].sum() / len(z) + 2.0 * lost.mean()) / (1.0 - lost.mean())
        worth = np.where(lost, 2.0 + hole, played) - costs[FAIRWAY]
        shares += [np.mean(zone == one) / 2 for one in range(5)]
        parts += [np.mean(worth * (zone == one)) / 2 for one in range(5)]
        clean += costs[FAIRWAY].mean() / 2
    told = (found.fairway_share, found.trees_share, found.water_share, found.out_share)
    assert told == pytest.approx((shares[FAIRWAY], shares[TREES], shares[WATER], shares[OUT]), abs=0.006)
    lost_to = (found.rough, found.trees, found.water, found.out_of_bounds)
    assert lost_to == pytest.approx(tuple(parts[1:]), abs=0.006)
    assert found.clean == pytest.approx(clean, abs=0.006)
    assert found.trouble == pytest.approx(sum(lost_to))


def test_the_best_aim_is_the_best_of_those_that_are_tried() -> None:
    """A drive that is aimed elsewhere costs more; with water from the left edge on the aim lies to the right."""
    hole = one_hole(34.0, Side(water_from_m=0.0), Side())
    best = expected_strokes(pattern(235.0, 5.0, 0.0), hole, "80")
    assert 0.0 < best.aim_deg[0] <= 6.0
    assert best.aim_deg[0] in AIMS_DEG
    assert (AIMS_DEG[0], AIMS_DEG[-1], len(AIMS_DEG)) == (-6.0, 6.0, 17)
    open_side = one_hole(34.0, Side(), Side(water_from_m=0.0))
    assert expected_strokes(pattern(235.0, 5.0, 0.0), open_side, "80").aim_deg == (-best.aim_deg[0],)


def test_a_long_list_of_patterns_is_worked_out_in_its_order() -> None:
    hole = one_hole(34.0, Side(trees_from_m=8.0), Side(water_from_m=12.0))
    drives = [pattern(200.0 + step, 4.0 + 0.02 * step) for step in range(130)]
    errors = [PatternError(1.0 + step / 100, 0.1, 0.1, 0.02) for step in range(130)]
    together = course_strokes(drives, hole, "90", errors)
    assert len(together) == 130
    for place in (0, 63, 64, 127, 128, 129):
        alone = expected_strokes(drives[place], hole, "90", errors[place])
        assert together[place].per_round == pytest.approx(alone.per_round, abs=1e-9)
        assert together[place].standard_error == pytest.approx(alone.standard_error, rel=1e-6)
    assert expected_strokes(drives[0], hole, "90").standard_error is None
    with pytest.raises(ValueError, match="one error for each"):
        course_strokes(drives, hole, "90", errors[:-1])
    assert course_strokes(drives[:1], hole)[0].per_round == expected_strokes(drives[0], hole, "80").per_round


def test_what_a_round_costs_alone_is_what_the_split_adds_up_to() -> None:
    """Three layouts with other borders, one of them out of bounds, beside each other and alone."""
    lake, out = Side(trees_from_m=9.0, water_from_m=20.0), Side(trees_from_m=5.0, out_of_bounds_from_m=18.0)
    shots = (TeeShot(400.0, 30.0, lake, out), TeeShot(380.0, 34.0, Side(), lake), TeeShot(350.0, 30.0, Side(), Side()))
    course = Course("mixed", (*shots, shots[0]), trees_blocked_share=0.5)
    drives = [replace(pattern(190.0 + 3 * step, 4.0 + 0.1 * step), tail_share=0.01 * (step % 3)) for step in range(20)]
    whole = course_strokes(drives, course, "90")
    rounds = round_strokes(drives, course, "90")
    assert rounds.tolist() == [one.per_round for one in whole]
    assert rounds.tolist() == [round_strokes([one], course, "90")[0] for one in drives]
    for one in whole:
        assert one.clean + one.trouble == pytest.approx(one.per_tee_shot, abs=1e-12)
    assert round_strokes([], course).tolist() == []


def two_normal_parts(at: NDArray[np.float64], share: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """Reference: scipy.stats.norm (computed here); wide shots scatter four times as wide."""
    found: NDArray[np.float64] = (1.0 - share) * norm.cdf(at) + share * norm.cdf(at, scale=4.0)
    return found


@pytest.mark.parametrize("n", [5, 40_000])
@pytest.mark.parametrize("share", [0.0, 0.05, 0.4])
def test_directions_are_read_of_a_table_as_they_are_computed(share: float, n: int) -> None:
    """Few values are read of one table for narrow and one for wide shots, many of one for both."""
    at = np.concatenate([np.random.default_rng(5).uniform(-12.0, 12.0, n), [-1e6, -40.0, 0.0, 40.0, 1e6]])
    read = distribution(at[None].copy(), np.array([[share]]))[0]
    assert np.abs(read - two_normal_parts(at, share)).max() < 1e-11
    assert np.abs(read[-30:] - distribution(at[None, -30:].copy(), np.array([[share]]))[0]).max() < 1e-15


def test_patterns_with_tails_of_their_own_are_read_as_they_are_computed() -> None:
    """Few borders of many patterns, and so many of one that they are read in parts; beside others and alone."""
    shares = np.array([0.0, 0.0, 0.05, 0.4, 1.0]).reshape(5, 1, 1)
    for n in (3, 20_000):
        at = np.random.default_rng(6).normal(0.0, 9.0, (5, 2, n))
        read = distribution(at.copy(), shares)
        assert np.abs(read - two_normal_parts(at, shares)).max() < 1e-11
        for one in range(5):
            assert np.array_equal(read[one], distribution(at[one : one + 1].copy(), shares[one : one + 1])[0])
    assert distribution(np.empty((0, 2, 3)), np.empty((0, 1, 1))).shape == (0, 2, 3)


def test_the_patterns_of_a_map_cost_what_they_cost_alone() -> None:
    """At every scatter, each with tails of its own, whatever scatter it came with."""
    drives = [replace(pattern(total, 9.9), tail_share=share) for total, share in ((180.0, 0.0), (240.0, 0.08), (281.5, 0.3))]
    scatters = np.array([2.0, 4.7, 8.9])
    for course in (OPEN_COURSE, TREE_LINED_COURSE):
        found = map_strokes(drives, scatters, course, "90")
        every = [replace(drive, direction_sd_deg=scatter) for drive in drives for scatter in scatters]
        assert np.abs(found.ravel() - round_strokes(every, course, "90")).max() < 1e-9
        assert found.tolist() == [map_strokes([one], scatters, course, "90")[0].tolist() for one in drives]
    assert map_strokes([], scatters, OPEN_COURSE).shape == (0, 3)


def test_strokes_of_a_pattern_are_the_same_to_the_last_digit_beside_others() -> None:
    """What stands of one night was found beside other players than tonight's; few borders, many, and none out of bounds."""
    shots = tuple(
        TeeShot(330.0 + 9 * n, 28.0 + n, Side(trees_from_m=5.0 + 0.3 * n), Side(out_of_bounds_from_m=17.0 + 0.7 * n))
        for n in range(12)
    )
    drives = [replace(pattern(190.0 + 3 * n, 4.0 + 0.1 * n), tail_share=0.01 * (n % 3), correlation=0.02 * n) for n in range(20)]
    errors = [PatternError(1.0 + n / 100, 0.1, 0.1, 0.02, 0.01, 0.3) for n in range(20)]
    for course in (OPEN_COURSE, Course("many", shots), one_hole(30.0, Side(), Side(water_from_m=9.0))):
        together = course_strokes(drives, course, "90", errors)
        assert together == [expected_strokes(one, course, "90", error) for one, error in zip(drives, errors, strict=True)]
        assert together[3:] == course_strokes(drives[3:], course, "90", errors[3:])


def test_strokes_by_metre_are_those_of_the_baseline_with_what_each_zone_adds() -> None:
    """Trees: the blocked share from recovery, the rest from the rough; water: a stroke, and the rough at the same distance."""
    values = zone_strokes("80", 0.25)
    left = np.array([[0.0, 99.5, 150.25, 899.0]])
    fairway, rough, trees, water = values.at(left)
    metres = {lie: 1.0 + strokes_to_hole_out(np.arange(901.0), lie, "80") for lie in ("fairway", "rough", "recovery")}
    for found, expected in (
        (fairway, metres["fairway"]),
        (rough, metres["rough"]),
        (trees, 0.25 * metres["recovery"] + 0.75 * metres["rough"]),
        (water, metres["rough"] + 1.0),
    ):
        assert found[0] == pytest.approx(np.interp(left[0], np.arange(901.0), expected))
    assert values.at(np.array([-5.0, 2000.0]))[0] == pytest.approx(metres["fairway"][[0, 899]])


def test_the_error_of_strokes_is_what_months_of_one_player_differ_by() -> None:
    """Sixty drives a month of a known maker: estimated patterns cost differently by about what each says of itself."""
    rng = np.random.default_rng(12)
    patterns, errors = [], []
    for _ in range(60):
        drawn = rng.normal(0.0, 4.0, 60) * np.where(rng.random(60) < 0.06, 4.0, 1.0)
        _, middle, scale = student.fit(drawn, fix_df=4)
        found = tail_spread(drawn, middle, scale)
        patterns.append(replace(pattern(230.0, found.sd), tail_share=found.tail_share))
        errors.append(PatternError(0.0, 0.0, found.log_error, 0.0, found.tail_share_error, found.correlation))
    told = course_strokes(patterns, TREE_LINED_COURSE, "80", errors)
    spread = np.std([one.per_round for one in told])
    mean = np.mean([one.standard_error for one in told]) * len(TREE_LINED_COURSE.tee_shots)
    assert mean == pytest.approx(spread, rel=0.3)
    apart = [replace(error, tail_correlation=0.0) for error in errors]
    wide = np.mean([one.standard_error for one in course_strokes(patterns, TREE_LINED_COURSE, "80", apart)])
    assert wide * len(TREE_LINED_COURSE.tee_shots) > 1.1 * mean


@given(arrays(np.float64, st.integers(1, 30), elements=st.floats(-5.0, 5.0)))
@example(np.array([3.0, 2.0, 1.0, 4.0, 0.0, 0.5]))  # blocks of several values are joined with others
def test_pooled_neighbours_are_the_nearest_that_do_not_fall(values: NDArray[np.float64]) -> None:
    # Reference: scipy.optimize.isotonic_regression (least squares; computed here, by another way).
    np.testing.assert_allclose(non_decreasing(values), isotonic_regression(values).x, atol=1e-12)
