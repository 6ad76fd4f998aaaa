"""How far players of a device have moved against their own last sessions, summed by device."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

SLACK = 0.5
FEWEST_EARLIER, MEMORY = 4, 12.0


@dataclass(frozen=True)
class Move:
    """One session of a player on a device against what was usual of the player."""

    on: dt.date
    player_id: str
    club: str
    session_id: str
    residual: float
    variance: float


@dataclass
class Side:
    """Cumulative sum of a device on one side, with the moves since it last was 0."""

    total: float = 0.0
    moves: list[Move] = field(default_factory=list)

    def add(self, score: float, weight: int, moves: list[Move]) -> None:
        """One day of the device."""
        self.total = max(0.0, self.total + weight * (score - SLACK))
        self.moves = [*self.moves, *moves] if self.total > 0 else []


@dataclass
class Usual:
    """What is usual of one player and club, over devices."""

    mean: float = 0.0
    precision: float = 0.0
    n: int = 0
    shares: dict[str, float] = field(default_factory=dict)  # of each device in the mean

    def learn(self, device_id: str, value: float, variance: float) -> None:
        """Take in a session."""
        if self.n >= FEWEST_EARLIER:
            reach = 2.5 * variance**0.5
            value = self.mean + min(max(value - self.mean, -reach), reach)
        precision = self.precision + 1.0 / variance
        self.mean += (value - self.mean) / variance / precision
        own = 1.0 / variance / precision
        self.shares = {device: share * (1.0 - own) for device, share in self.shares.items()}
        self.shares[device_id] = self.shares.get(device_id, 0.0) + own
        self.precision, self.n = min(precision, MEMORY / variance), self.n + 1

    def reoffset(self, device_id: str, more: float) -> None:
        """A device's offset is now larger by so much than when its sessions were learned."""
        self.mean -= more * self.shares.get(device_id, 0.0)
