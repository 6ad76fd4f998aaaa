"""Flight and run: limits and symmetries that hold for every shot."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.air import moist_air_density_kgpm3
from pipelines.measures.flight import COEFFICIENT_SETS, Flight, fly

speeds = st.floats(45.0, 85.0)
launches = st.floats(6.0, 25.0)
spins = st.floats(1500.0, 6000.0)
directions = st.floats(-8.0, 8.0)
axes = st.floats(-20.0, 20.0)


@settings(max_examples=12, deadline=None)
@given(st.floats(58.0, 85.0), st.floats(10.0, 25.0), st.floats(2200.0, 6000.0), st.floats(0.5, 10.0))
def test_more_head_wind_less_carry(speed: float, launch: float, spin: float, wind: float) -> None:
    # full drives: a low, slow ball that falls short of its lift may gain from a light head wind
    carry = fly(speed, launch, 0.0, spin, 0.0, 1.2, [0.0, wind, wind + 1.0], 0.0).carry_m
    assert carry[0] > carry[1] > carry[2]


@settings(max_examples=12, deadline=None)
@given(speeds, launches, directions, spins, axes)
def test_left_is_the_mirror_of_right(speed: float, launch: float, direction: float, spin: float, axis: float) -> None:
    flight = fly(speed, launch, [direction, -direction], spin, [axis, -axis], 1.2, 4.0, [70.0, 290.0])
    np.testing.assert_allclose(flight.carry_m[0], flight.carry_m[1], atol=1e-9)
    np.testing.assert_allclose(flight.offline_m[0], -flight.offline_m[1], atol=1e-9)


@settings(max_examples=12, deadline=None)
@given(st.floats(0.0, 0.3), st.floats(0.7e5, 2.2e5))
def test_no_spin_no_lift(ratio: float, reynolds: float) -> None:
    for coefficients in COEFFICIENT_SETS.values():
        drag, lift = coefficients(np.array([0.0, ratio]), np.array([reynolds, reynolds]))
        assert lift[0] == 0.0
        assert lift[1] >= -1e-12
        assert (drag > 0.1).all()


@settings(max_examples=12, deadline=None)
@given(speeds, launches, spins, directions)
def test_turning_the_aim_turns_the_landing_point(speed: float, launch: float, spin: float, direction: float) -> None:
    straight, turned = (fly(speed, launch, angle, spin, 3.0) for angle in (0.0, direction))
    angle = np.radians(direction)
    x, y = straight.carry_m[0], straight.offline_m[0]
    np.testing.assert_allclose(turned.carry_m[0], x * np.cos(angle) - y * np.sin(angle), atol=1e-8)
    np.testing.assert_allclose(turned.offline_m[0], x * np.sin(angle) + y * np.cos(angle), atol=1e-8)


@settings(max_examples=12, deadline=None)
@given(speeds, launches, spins)
def test_a_faster_ball_in_thinner_air_flies_farther(speed: float, launch: float, spin: float) -> None:
    cold, warm = (float(moist_air_density_kgpm3(t, 101325.0, 50.0)) for t in (5.0, 30.0))
    carry = fly([speed, speed + 0.5], launch, 0.0, spin, 0.0, warm).carry_m
    assert carry[1] > carry[0]
    if speed > 60.0 and spin > 2000.0 and 10.0 < launch < 15.0:
        # full drives: the drag saved outweighs the lift lost, by which a low ball lives
        assert carry[0] > fly(speed, launch, 0.0, spin, 0.0, cold).carry_m[0]


@settings(max_examples=8, deadline=None)
@given(st.integers(1, 40), st.randoms(use_true_random=False))
def test_shots_do_not_depend_on_their_neighbours(n: int, random: object) -> None:
    rng = np.random.default_rng(n)
    speed, launch, spin = rng.uniform(45, 80, n), rng.uniform(7, 20, n), rng.uniform(1800, 5000, n)
    together = fly(speed, launch, 0.0, spin)
    alone = np.array([fly(speed[i], launch[i], 0.0, spin[i]).carry_m[0] for i in range(min(n, 5))])
    np.testing.assert_allclose(together.carry_m[: alone.size], alone, rtol=1e-12)


@settings(max_examples=10, deadline=None)
@given(
    st.floats(58.0, 85.0),
    st.floats(12.0, 25.0),
    st.floats(2200.0, 6000.0),
    st.floats(1.0, 8.0),
    st.sampled_from([0.0, 90.0, 180.0]),
)
def test_wind_measured_low_blows_harder_where_the_ball_flies(
    speed: float, launch: float, spin: float, wind: float, wind_from: float
) -> None:
    # balls that fly above a meter at 2 m and below one at 100 m; with little spin a head wind holds up a low ball
    given = (speed, launch, 0.0, spin, 0.0, 1.2, wind, wind_from)
    same, profile, high = (fly(*given, wind_height_m=height) for height in (None, 2.0, 100.0))
    still = fly(*given[:6])

    def moved(flight: Flight) -> float:
        return float(np.hypot(flight.carry_m[0] - still.carry_m[0], flight.offline_m[0]))

    assert moved(high) < moved(same) < moved(profile)


def test_in_still_air_the_height_of_the_meter_does_not_matter() -> None:
    assert fly(70.0, 11.0, wind_height_m=2.0).carry_m[0] == fly(70.0, 11.0).carry_m[0]
