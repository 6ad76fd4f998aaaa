from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.device.offsets import device_offsets


def full_equations(values, variances, player, device, n_devices, player_variance, device_variance):  # type: ignore[no-untyped-def]
    """Mean, players and devices in one dense system."""
    n_players = player.max() + 1
    design = np.zeros((values.size, 1 + n_players + n_devices))
    design[:, 0] = 1.0
    design[np.arange(values.size), 1 + player] = 1.0
    design[np.arange(values.size), 1 + n_players + device] = 1.0
    ridge = np.r_[0.0, np.full(n_players, 1 / player_variance), np.full(n_devices, 1 / device_variance)]
    system = design.T @ (design / variances[:, None]) + np.diag(ridge)
    inverse = np.linalg.inv(system)
    offsets = (inverse @ design.T @ (values / variances))[1 + n_players :]
    contrast = np.eye(n_devices) - 1.0 / n_devices
    covariance = contrast @ inverse[1 + n_players :, 1 + n_players :] @ contrast.T
    return contrast @ offsets, np.sqrt(np.diag(covariance))


def squad(seed: int, n_players: int, n_devices: int, share_on_two: float) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(seed)
    truth = rng.normal(0.0, 1.0, n_devices)
    home, other = rng.integers(0, n_devices, (2, n_players))
    player = np.repeat(np.arange(n_players), 40)
    on_other = (rng.random(player.size) < 0.5) & (rng.random(n_players) < share_on_two)[player]
    device = np.where(on_other, other[player], home[player])
    variances = rng.uniform(0.5, 1.5, player.size)
    values = 50.0 + rng.normal(0.0, 6.0, n_players)[player] + truth[device] + rng.normal(0.0, np.sqrt(variances))
    return truth, values, variances, player, device


def test_equal_to_the_same_equations_solved_in_full() -> None:
    _, values, variances, player, device = squad(1, 60, 4, 0.5)
    own = device_offsets(values, variances, player, device, 4, 36.0, 4.0)
    offsets, errors = full_equations(values, variances, player, device, 4, 36.0, 4.0)
    np.testing.assert_allclose(own.offset, offsets, rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(own.error, errors, rtol=1e-6)


def test_offsets_of_a_large_squad_are_found_where_a_naive_mean_is_not() -> None:
    truth, values, variances, player, device = squad(2, 2000, 12, 0.10)
    own = device_offsets(values, variances, player, device, 12, 36.0, 4.0)
    centred = truth - truth.mean()
    naive = np.array([values[device == number].mean() for number in range(12)]) - values.mean()
    error, naive_error = np.sqrt(np.mean((own.offset - centred) ** 2)), np.sqrt(np.mean((naive - centred) ** 2))
    assert error < 0.08
    assert naive_error > 3 * error
    assert np.mean(np.abs(own.offset - centred) <= 1.96 * own.error) >= 0.75


def test_devices_that_nobody_has_both_used_are_not_compared() -> None:
    _, values, variances, player, _ = squad(3, 20, 2, 0.0)
    own = device_offsets(values, variances, player, (player % 2).astype(np.int64), 2, 36.0, 4.0)
    assert own.group[0] != own.group[1]
    assert np.all(np.isinf(own.error))
    np.testing.assert_array_equal(own.offset, 0.0)
    np.testing.assert_array_equal(own.n_bridges, 0)


def test_offsets_sum_to_zero_within_a_group() -> None:
    _, values, variances, player, device = squad(4, 100, 3, 0.5)
    assert device_offsets(values, variances, player, device, 3, 36.0, 4.0).offset.sum() == pytest.approx(0.0, abs=1e-9)
