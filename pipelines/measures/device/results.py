"""What the watch over devices finds."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.device.cause import Cause
from pipelines.measures.device.dating import DatedMove
from pipelines.measures.device.window import OffsetInForce

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class DeviceShift:
    """Players moved together on one device.

    Attributes
    ----------
    device_id : str
    found_on : datetime.date
    dated : DatedMove
        When it was and by how much, as known when it was found.
    n_players, n_sessions : int
    session_ids : tuple of str
        Of the sessions since.
    sum : float
        Of the chart when it was found, in standard deviations.
    cause : {"device", "players", "unclear"}
        Who moved, as far as players on two devices tell by ``told_on``; only where it is the device is anything taken off.
    told_on : datetime.date
    told_amount : float
        What is taken off from the day after; 0 unless it is the device.
    """

    device_id: str
    found_on: dt.date
    dated: DatedMove
    n_players: int
    n_sessions: int
    session_ids: tuple[str, ...]
    sum: float
    cause: Cause
    told_on: dt.date
    told_amount: float = 0.0

    @property
    def began_on(self) -> dt.date:
        """The likeliest first day after the move."""
        return self.dated.on

    @property
    def amount(self) -> float:
        """Mean move of its players [%]."""
        return self.dated.amount

    @property
    def error(self) -> float:
        """Standard error of the mean move."""
        return self.dated.error


@dataclass(frozen=True)
class DeviceWatch:
    """What the watch over one quantity found.

    Attributes
    ----------
    offsets : (n,) array
        Offset to take off each observation, as known on its day [%].
    series : list of str
        For each observation: empty, or the device when it is followed on its own.
    doubt : (n,) array
        Variance that is added to an observation while its device is suspected: the squared move.
    in_force : list of OffsetInForce
    shifts : list of DeviceShift
    """

    offsets: Floats
    doubt: Floats
    series: list[str]
    in_force: list[OffsetInForce]
    shifts: list[DeviceShift]
