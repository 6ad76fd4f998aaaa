"""Which kind a file is of, and how it is read: in our own form, or through the mapping of its folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.stages.intake.batch import native_content, with_required
from pipelines.stages.intake.discover import kind_of
from pipelines.stages.intake.table import Cells, Plain, Unread

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.stages.intake.discover import Arrival
    from schemas.files import FileKind


class Readings:
    """The mappings of a workspace, each read once."""

    def __init__(self, folder: Path, time_zone: str) -> None:
        self.folder = folder
        self.time_zone = time_zone


def kind_for(arrival: Arrival, readings: Readings) -> str | Unread:
    """Kind of a file by its mapping or its name; why not, when it has none."""
    if arrival.fault:
        return Unread(arrival.fault)
    if arrival.mapping:
        return Unread("no_mapping", arrival.mapping)
    return kind_of(arrival.name) or Unread("unknown_kind", arrival.name)


def read_content(kind: FileKind, arrival: Arrival, data: bytes, readings: Readings) -> Plain | Cells | Unread:
    """Split a file into cells under native names."""
    return with_required(kind, native_content(arrival.ending, data))
