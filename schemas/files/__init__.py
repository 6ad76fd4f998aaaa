"""The kinds of files, and the contract of each as a pandera schema."""

from __future__ import annotations

from types import MappingProxyType

from schemas.files.golf import ROUNDS, SESSIONS, SHOTS, TRIALS
from schemas.files.kind import FileColumn, FileKind, Reference, RowRule
from schemas.files.people import ABSENCES, CHANGES, CHECKINS, DECISIONS, MOBILITY, PLANS, PLAYERS, PROBLEMS

KINDS: MappingProxyType[str, FileKind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            PLAYERS, SESSIONS, TRIALS, SHOTS, CHECKINS, PROBLEMS, ABSENCES, PLANS, MOBILITY, ROUNDS, CHANGES, DECISIONS,
        )
    }
)  # fmt: skip
"""Kind of file by its name, in the order in which a batch is taken in: what is named comes before what names it."""

__all__ = ["KINDS", "FileColumn", "FileKind", "Reference", "RowRule"]
