"""What a device reads above another, as far as players who used both tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class DeviceOffsets:
    """Offsets of D devices.

    Attributes
    ----------
    offset, error : (D,) arrays
        Offset from the mean of the devices that can be compared with it, and its standard error. 0 and ``inf`` for a device that
        cannot be compared with any.
    group : (D,) array
        Devices of one group can be compared; across groups nobody has used both.
    n_bridges : (D,) array
        Players who used this and another device.
    """

    offset: Floats
    error: Floats
    group: Integers
    n_bridges: Integers


def device_offsets(
    values: Floats,
    variances: Floats,
    player: Integers,
    device: Integers,
    n_devices: int,
    player_variance: float,
    device_variance: float,
) -> DeviceOffsets:
    """Offsets of devices from sessions of many players.

    Parameters
    ----------
    values, variances : (n,) arrays
        Session values and their variances about the player's level on that device (form and shot noise).
    player, device : (n,) arrays
        Numbers of player and device from 0.
    n_devices : int
    player_variance : float
        Variance of levels between players.
    device_variance : float
        Prior variance of offsets.

    Returns
    -------
    DeviceOffsets

    Notes
    -----
    ``y = mu + player + device + e`` with random players and weakly held devices: Henderson's mixed-model equations, players
    eliminated one by one (their block is diagonal), the devices' Schur complement solved in full. Offsets sum to zero within each
    connected component of the player-device graph; across components they are not identified and not compared.

    Source: [Henderson1984]
    Checked: tests/unit/test_device_offsets.py (the same equations solved in full; simulated squads)
    """
    weight = 1.0 / variances
    n_players = int(player.max(initial=-1)) + 1
    group, bridges = _components(player, device, n_players, n_devices)
    by_player = np.bincount(player, weight, n_players) + 1.0 / player_variance
    cross = sparse.csr_matrix((weight, (player, device)), shape=(n_players, n_devices))
    right_player = np.bincount(player, weight * values, n_players)
    scaled = sparse.diags(1.0 / by_player) @ cross
    schur = np.diag(np.bincount(device, weight, n_devices) + 1.0 / device_variance) - (cross.T @ scaled).toarray()
    right = np.asarray(np.bincount(device, weight * values, n_devices) - scaled.T @ right_player, dtype=np.float64)
    by_device = np.bincount(device, weight, n_devices) - scaled.T @ np.bincount(player, weight, n_players)
    mean_column = np.asarray(by_device, dtype=np.float64)
    offsets, covariance = _with_means(schur, right, mean_column, group)
    return _centred(offsets, covariance, group, bridges)


def _components(player: Integers, device: Integers, n_players: int, n_devices: int) -> tuple[Integers, Integers]:
    links = sparse.coo_matrix((np.ones(player.size), (player, n_players + device)), shape=(n_players + n_devices,) * 2)
    _, label = connected_components(links, directed=False)
    pairs = np.unique(np.stack([player, device], axis=1), axis=0)
    several = np.bincount(pairs[:, 0], minlength=n_players) > 1
    bridges = np.bincount(pairs[several[pairs[:, 0]], 1], minlength=n_devices)
    return np.unique(label[n_players:], return_inverse=True)[1].astype(np.int64), bridges.astype(np.int64)


def _with_means(schur: Floats, right: Floats, mean_column: Floats, group: Integers) -> tuple[Floats, Floats]:
    """Offsets with a free mean for each component, and their covariance."""
    n, n_groups = group.size, int(group.max(initial=-1)) + 1
    columns = np.zeros((n, n_groups))
    columns[np.arange(n), group] = mean_column
    own = np.zeros((n_groups, n_groups))
    np.add.at(own, (group, group), mean_column)
    system = np.block([[schur, columns], [columns.T, own + 1e-12 * np.eye(n_groups)]])
    full_right = np.concatenate([right, np.bincount(group, right, n_groups)])
    inverse = np.linalg.inv(system)
    return (inverse @ full_right)[:n], inverse[:n, :n]


def _centred(offsets: Floats, covariance: Floats, group: Integers, bridges: Integers) -> DeviceOffsets:
    contrast = np.eye(group.size)
    for component in np.unique(group):
        members = np.flatnonzero(group == component)
        contrast[np.ix_(members, members)] -= 1.0 / members.size
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", contrast, covariance, contrast), 0.0))
    alone = np.bincount(group)[group] < 2
    return DeviceOffsets(np.where(alone, 0.0, contrast @ offsets), np.where(alone, np.inf, error), group, bridges)
