"""What a device reads above another, as far as players who used both tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Iterator

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
    covariance : (D, D) array
        Of the errors of these offsets: those of one group sum to zero, so that one that is too large makes the others too small.
    group : (D,) array
        Devices of one group can be compared; across groups nobody has used both.
    n_bridges : (D,) array
        Players who used this and another device.
    """

    offset: Floats
    error: Floats
    covariance: Floats
    group: Integers
    n_bridges: Integers

    def between(self, device: int, other: int) -> tuple[float, float]:
        """What one device reads above another of its group, and the standard error of that."""
        covariance = self.covariance
        variance = covariance[device, device] + covariance[other, other] - 2.0 * covariance[device, other]
        return float(self.offset[device] - self.offset[other]), float(np.sqrt(max(variance, 0.0)))


@dataclass(frozen=True)
class Wander:
    """How a player's own level may move while devices are compared.

    Attributes
    ----------
    level_variance : float
        Variance that the level gains in a day.
    slope_variance : float
        Variance of its slope per day.
    """

    level_variance: float
    slope_variance: float


def device_offsets(
    values: Floats,
    variances: Floats,
    days: Floats,
    player: Integers,
    device: Integers,
    n_devices: int,
    wander: Wander,
    device_variance: float,
) -> DeviceOffsets:
    """Offsets of devices from sessions of many players who change between them.

    Parameters
    ----------
    values, variances : (n,) arrays
        Session values and their variances about the player's level on that device (form and shot noise).
    days : (n,) array
        Day of each session [d].
    player, device : (n,) arrays
        Numbers of player and device from 0.
    n_devices : int
    wander : Wander
        How far a player's own level may move meanwhile.
    device_variance : float
        Prior variance of offsets.

    Returns
    -------
    DeviceOffsets

    Notes
    -----
    ``y = player(t) + device + e``: each player's level is free, wanders and has a slope of its own, so that a player who trains
    while changing devices is not taken for an offset; generalised least squares player by player, devices weakly held. Offsets
    sum to zero within each connected component of the player-device graph; across components they are not identified and not
    compared.

    Source: [Henderson1984]
    Checked: tests/unit/test_device_offsets.py (the same equations solved in full; simulated squads)
    """
    n_players = int(player.max(initial=-1)) + 1
    group, bridges = _components(player, device, n_players, n_devices)
    information, right = np.eye(n_devices) / device_variance, np.zeros(n_devices)
    for rows in _players_alike(player, device):
        weight = _own_weight(variances[rows], days[rows], wander)
        design = np.eye(n_devices)[device[rows]]
        turned = design.transpose(0, 2, 1) @ weight
        information += (turned @ design).sum(axis=0)
        right += (turned @ values[rows][:, :, None])[:, :, 0].sum(axis=0)
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    return _centred(covariance @ right, covariance, group, bridges)


def _players_alike(player: Integers, device: Integers) -> Iterator[Integers]:
    """Rows of the players who used several devices, shape (players, sessions): those with as many sessions together."""
    order = np.argsort(player, kind="stable")
    own = np.split(order, np.flatnonzero(np.diff(player[order])) + 1)
    several = [rows for rows in own if (device[rows] != device[rows[:1]]).any()]
    for n in sorted({rows.size for rows in several}):
        yield np.stack([rows for rows in several if rows.size == n])


def _own_weight(variances: Floats, days: Floats, wander: Wander) -> Floats:
    """Inverse covariances of the sessions of some players (players, sessions), with each own level taken out."""
    since = days - days.min(axis=1, keepdims=True)
    earlier = np.minimum(since[:, :, None], since[:, None, :])
    apart = variances[:, :, None] * np.eye(variances.shape[1])
    covariance = apart + wander.level_variance * earlier + wander.slope_variance * since[:, :, None] * since[:, None, :]
    inverse = np.linalg.inv(covariance)
    total = inverse.sum(axis=1)
    outer = total[:, :, None] * total[:, None, :]
    return np.asarray(inverse - outer / total.sum(axis=1)[:, None, None])


def _components(player: Integers, device: Integers, n_players: int, n_devices: int) -> tuple[Integers, Integers]:
    """Which devices hang together through players, and how many players of several devices each has."""
    used = np.zeros((n_players, n_devices))
    used[player, device] = 1.0
    bridges = used[used.sum(axis=1) > 1].sum(axis=0)
    together = used.T @ used + np.eye(n_devices) > 0
    for _ in range(n_devices.bit_length()):  # through twice as many players each time
        together = together.astype(np.float64) @ together > 0
    return np.unique(together.argmax(axis=1), return_inverse=True)[1].astype(np.int64), bridges.astype(np.int64)


def _centred(offsets: Floats, covariance: Floats, group: Integers, bridges: Integers) -> DeviceOffsets:
    contrast = np.eye(group.size)
    for component in np.unique(group):
        members = np.flatnonzero(group == component)
        contrast[np.ix_(members, members)] -= 1.0 / members.size
    centred = np.asarray(contrast @ covariance @ contrast.T)
    error = np.sqrt(np.maximum(np.diag(centred), 0.0))
    alone = np.bincount(group)[group] < 2
    return DeviceOffsets(np.where(alone, 0.0, contrast @ offsets), np.where(alone, np.inf, error), centred, group, bridges)
