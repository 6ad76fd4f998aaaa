"""What people hand in beside files, as deliveries of its own: mappings, and wishes to take a file back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from pipelines.stages.intake import disk
from pipelines.stages.intake.table import Unread
from schemas.results import FileOutcome

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipelines.stages.intake.discover import Arrival

ENDING = ".json"


@dataclass
class HandedIn:
    """What became of the deliveries of one kind that waited.

    Attributes
    ----------
    outcomes : list of FileOutcome
    refused : list
        Those that are held, with the reason.
    settled : list of Arrival
        Those that are done with when the files have been read.
    """

    outcomes: list[FileOutcome] = field(default_factory=list)
    refused: list[tuple[Arrival, Unread]] = field(default_factory=list)
    settled: list[Arrival] = field(default_factory=list)

    def read(self, waiting: list[Arrival]) -> Iterator[tuple[Arrival, bytes]]:
        """What waits with its bytes; what is still being written waits on, and what cannot be read is refused."""
        for delivery in waiting:
            data = disk.content(delivery)
            if data in {disk.WAITING, disk.GONE}:
                self.outcomes.append(FileOutcome(delivery.name, "", "", "waiting", 0, 0, 0, reason=str(data)))
            elif isinstance(data, str):
                self.refused.append((delivery, Unread(data)))
            else:
                yield delivery, data

    def fulfilled(self, delivery: Arrival, word: str, told: str) -> None:
        """Say of a delivery what was done."""
        self.outcomes.append(FileOutcome(delivery.name, word, "", "loaded", 0, 0, 0, note=told))


def is_handed_in(name: str, word: str) -> bool:
    """Whether a file of that name below the inbox is such a delivery of the kind that ``word`` names."""
    return "/" not in name and name.startswith(f"{word}_") and name.endswith(ENDING)
