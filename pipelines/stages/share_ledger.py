"""What an academy has shared so far: cohorts, and every month as it was shared. It lies in the workspace and in its backups.

Persons stand in it by keyed marks: they tell nobody who it is, and somebody who is erased is not found again by them. Without it
nothing could tell which differences a further month would allow; so a month is noted here, whole, before any of it is written to
the shared folder, and what a failing network kept from there is written again from here.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.measures.federation.cohorts import Cohort
from pipelines.stages.intake.disk import write_durably
from schemas.errors import WorkspaceError
from schemas.shared import SHARED

if TYPE_CHECKING:
    from pathlib import Path


def keyed_mark(key: bytes, *parts: str) -> str:
    """What stands for a person, or a person's block."""
    return hmac.digest(key, "\x1f".join(("share", *parts)).encode(), hashlib.sha256).hex()[:20]


@dataclass(frozen=True)
class Ledger:
    """What was shared.

    Attributes
    ----------
    cohorts : tuple of Cohort
    told : frozenset of str
        Marks of persons of whom something may have been shared that no cohort knows of.
    blocks : frozenset of str
        Marks of speed blocks that were shared.
    batches : tuple of frozenset
        Marks of the persons behind each estimate of speed blocks.
    months : dict
        First day of the month to kind to rows.
    """

    cohorts: tuple[Cohort, ...] = ()
    told: frozenset[str] = frozenset()
    blocks: frozenset[str] = frozenset()
    batches: tuple[frozenset[str], ...] = ()
    months: dict[dt.date, dict[str, pl.DataFrame]] = field(default_factory=dict)


def _cohort(told: dict[str, Any]) -> Cohort:
    shared = tuple((dt.date.fromisoformat(day), centre) for day, centre in told["shared"])
    scatter = dt.date.fromisoformat(told["scatter_on"]) if told["scatter_on"] else None
    return Cohort(**{**told, "members": frozenset(told["members"]), "shared": shared, "scatter_on": scatter})


def _told_cohort(one: Cohort) -> dict[str, Any]:
    shared = [[day.isoformat(), centre] for day, centre in one.shared]
    scatter = one.scatter_on.isoformat() if one.scatter_on else None
    return {
        "number": one.number, "members": sorted(one.members), "sex": one.sex, "age_band": one.age_band, "standard": one.standard,
        "shared": shared, "scatter_on": scatter, "ended": one.ended,
    }  # fmt: skip


def read_ledger(path: Path) -> Ledger:
    """The ledger at ``path``; an empty one before anything was shared.

    Raises
    ------
    WorkspaceError
        When it cannot be read: what a further month would allow somebody to find out is then unknown.
    """
    if not path.exists():
        return Ledger()
    try:
        return _ledger(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise WorkspaceError(
            f"{path.name} of the workspace cannot be read ({type(fault).__name__}); nothing was shared.",
            "Bring it back from a backup. Taken away, everybody who was shared before waits until five others join.",
        ) from fault


def _ledger(told: dict[str, Any]) -> Ledger:
    months = {
        dt.date.fromisoformat(day): {kind: _frame(kind, rows) for kind, rows in kinds.items()}
        for day, kinds in told["months"].items()
    }
    cohorts = tuple(_cohort(one) for one in told["cohorts"])
    batches = tuple(frozenset(persons) for persons in told["batches"])
    return Ledger(cohorts, frozenset(told["told"]), frozenset(told["blocks"]), batches, months)


def _frame(kind: str, rows: list[dict[str, Any]]) -> pl.DataFrame:
    schema = SHARED[kind].polars_schema()
    days = [name for name, of in schema.items() if of == pl.Date()]
    plain = [
        {name: dt.date.fromisoformat(value) if name in days and value else value for name, value in row.items()} for row in rows
    ]
    return pl.DataFrame(plain, schema=schema, orient="row")


def _plain(rows: pl.DataFrame) -> list[dict[str, Any]]:
    return rows.with_columns(pl.col(pl.Date).dt.to_string("%Y-%m-%d")).to_dicts()


def write_ledger(path: Path, ledger: Ledger) -> None:
    """Put the ledger on the disk, whole."""
    told = {
        "cohorts": [_told_cohort(one) for one in ledger.cohorts],
        "told": sorted(ledger.told),
        "blocks": sorted(ledger.blocks),
        "batches": [sorted(persons) for persons in ledger.batches],
        "months": {
            day.isoformat(): {kind: _plain(rows) for kind, rows in kinds.items()} for day, kinds in sorted(ledger.months.items())
        },
    }
    write_durably(path, json.dumps(told, separators=(",", ":")).encode())
