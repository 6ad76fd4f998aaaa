from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy import sparse

from pipelines.measures.device.offsets import Wander, device_offsets
from pipelines.measures.device.window import BRIDGE_DAYS, bridging_rows

WANDER = Wander(0.02, 0.5)


def full_equations(values, variances, days, player, device, n_devices, device_variance):  # type: ignore[no-untyped-def]
    """All players and devices in one dense system of generalised least squares, one free level for each player."""
    same = player[:, None] == player[None, :]
    since = days - np.array([days[player == number].min() for number in range(player.max() + 1)])[player]
    covariance = np.diag(variances) + same * (
        WANDER.level_variance * np.minimum.outer(since, since) + WANDER.slope_variance * np.outer(since, since)
    )
    design = np.hstack([np.eye(player.max() + 1)[player], np.eye(n_devices)[device]])
    ridge = np.r_[np.zeros(player.max() + 1), np.full(n_devices, 1 / device_variance)]
    inverse = np.linalg.inv(design.T @ np.linalg.solve(covariance, design) + np.diag(ridge))
    offsets = (inverse @ design.T @ np.linalg.solve(covariance, values))[-n_devices:]
    contrast = np.eye(n_devices) - 1.0 / n_devices
    return contrast @ offsets, contrast @ inverse[-n_devices:, -n_devices:] @ contrast.T


def squad(seed: int, n_players: int, n_devices: int, share_on_two: float) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(seed)
    truth = rng.normal(0.0, 1.0, n_devices)
    home, other = rng.integers(0, n_devices, (2, n_players))
    player = np.repeat(np.arange(n_players), 40)
    on_other = (rng.random(player.size) < 0.5) & (rng.random(n_players) < share_on_two)[player]
    device = np.where(on_other, other[player], home[player])
    variances = rng.uniform(0.5, 1.5, player.size)
    values = 50.0 + rng.normal(0.0, 6.0, n_players)[player] + truth[device] + rng.normal(0.0, np.sqrt(variances))
    days = np.tile(np.arange(40.0), n_players)
    return truth, values, variances, days, player, device


def test_equal_to_the_same_equations_solved_in_full() -> None:
    _, values, variances, days, player, device = squad(1, 60, 4, 0.5)
    own = device_offsets(values, variances, days, player, device, 4, WANDER, 4.0)
    offsets, covariance = full_equations(values, variances, days, player, device, 4, 4.0)
    np.testing.assert_allclose(own.offset, offsets, rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(own.error, np.sqrt(np.diag(covariance)), rtol=1e-6)
    amount, error = own.between(3, 1)
    apart = np.array([0.0, -1.0, 0.0, 1.0])
    assert amount == pytest.approx(apart @ offsets, abs=1e-8)
    assert error == pytest.approx(float(np.sqrt(apart @ covariance @ apart)), rel=1e-6)


def test_of_two_devices_each_errs_as_far_as_the_other_the_other_way() -> None:
    """Taken as independent, the standard error of what one reads above the other came out too small by the root of two."""
    _, values, variances, days, player, device = squad(5, 60, 2, 0.5)
    own = device_offsets(values, variances, days, player, device, 2, WANDER, 4.0)
    assert own.between(0, 1)[1] == pytest.approx(2.0 * own.error[0], rel=1e-6)


def test_intervals_of_what_one_device_reads_above_another_hold() -> None:
    held = []
    for seed in range(200):
        truth, values, variances, days, player, device = squad(100 + seed, 12, 2, 0.6)
        own = device_offsets(values, variances, days, player, device, 2, Wander(1e-6, 1e-6), 4.0)
        amount, error = own.between(0, 1)
        held.append(abs(amount - (truth[0] - truth[1])) <= 1.645 * error)
    assert 0.85 <= np.mean(held) <= 0.95


def test_offsets_of_a_large_squad_are_found_where_a_naive_mean_is_not() -> None:
    truth, values, variances, days, player, device = squad(2, 2000, 12, 0.10)
    own = device_offsets(values, variances, days, player, device, 12, WANDER, 4.0)
    centred = truth - truth.mean()
    naive = np.array([values[device == number].mean() for number in range(12)]) - values.mean()
    error, naive_error = np.sqrt(np.mean((own.offset - centred) ** 2)), np.sqrt(np.mean((naive - centred) ** 2))
    assert error < 0.08
    assert naive_error > 3 * error
    assert np.mean(np.abs(own.offset - centred) <= 1.96 * own.error) >= 0.75


def test_devices_that_nobody_has_both_used_are_not_compared() -> None:
    _, values, variances, days, player, _ = squad(3, 20, 2, 0.0)
    own = device_offsets(values, variances, days, player, (player % 2).astype(np.int64), 2, WANDER, 4.0)
    assert own.group[0] != own.group[1]
    assert np.all(np.isinf(own.error))
    np.testing.assert_array_equal(own.offset, 0.0)
    np.testing.assert_array_equal(own.n_bridges, 0)


def test_offsets_sum_to_zero_within_a_group() -> None:
    _, values, variances, days, player, device = squad(4, 100, 3, 0.5)
    assert device_offsets(values, variances, days, player, device, 3, WANDER, 4.0).offset.sum() == pytest.approx(0.0, abs=1e-9)


def test_a_squad_that_gains_while_it_changes_devices_is_no_offset() -> None:
    rng = np.random.default_rng(6)
    player, days = np.repeat(np.arange(40), 24), np.tile(np.arange(0.0, 48.0, 2.0), 40)
    device = (days >= 24).astype(np.int64)
    values = 1.5 * days / 28.0 + rng.normal(0.0, 0.8, player.size)
    own = device_offsets(values, np.full(player.size, 0.64), days, player, device, 2, WANDER, 4.0)
    difference, error = own.between(1, 0)
    assert values[device == 1].mean() - values[device == 0].mean() > 1.2
    assert abs(difference) <= 2.5 * error <= 0.6


@pytest.mark.parametrize("seed", range(12))
def test_bridges_are_those_of_every_pair_of_sessions(seed: int) -> None:
    """Independent: all pairs gone through one by one; several sessions a day, days exactly the limit apart, none at all."""
    rng = np.random.default_rng(seed)
    n = 30 * seed
    days = [dt.date(2026, 1, 1) + dt.timedelta(int(day)) for day in 7 * rng.integers(0, 16, n)]
    columns = {name: [f"{name} {k}" for k in rng.integers(0, 1 + seed // 3, n)] for name in ("player_id", "club", "device_id")}
    window = pl.DataFrame({**columns, "on_date": days, "x": rng.normal(size=n)}, schema_overrides={"on_date": pl.Date})
    rows = window.select("player_id", "club", "device_id", "on_date").rows()
    near = [
        any(
            (player, club) == (other[0], other[1]) and device != other[2] and abs((on - other[3]).days) <= BRIDGE_DAYS
            for other in rows
        )
        for player, club, device, on in rows
    ]
    assert bridging_rows(window).equals(window.filter(pl.Series(near, dtype=pl.Boolean)))


@pytest.mark.parametrize("seed", range(20))
def test_devices_hang_together_as_a_library_finds_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n_devices, n_players = 1 + seed % 9, 12
    player, device = rng.integers(0, n_players, 14), rng.integers(0, n_devices, 14)
    player = np.unique(player, return_inverse=True)[1]
    n_players = int(player.max()) + 1
    values, days = rng.normal(size=14), np.arange(14.0)
    found = device_offsets(values, np.ones(14), days, player, device, n_devices, WANDER, 4.0)
    size = n_players + n_devices
    links = sparse.coo_matrix((np.ones(14), (player, n_players + device)), shape=(size, size))
    label = sparse.csgraph.connected_components(links, directed=False)[1][n_players:]
    assert np.array_equal(found.group[:, None] == found.group, label[:, None] == label)
    several = [
        len({other for one, other in zip(player, device, strict=True) if one == number}) > 1 for number in range(n_players)
    ]
    users = [
        len({one for one, other in zip(player, device, strict=True) if other == k and several[one]}) for k in range(n_devices)
    ]
    assert found.n_bridges.tolist() == users
