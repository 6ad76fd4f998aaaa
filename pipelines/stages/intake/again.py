"""Kept originals that are read again: by wish, because a mapping or a setting changed, or because what they rest on did."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any
from unicodedata import normalize

import polars as pl

from pipelines.stages.intake.discover import Arrival, stamp_of
from schemas.errors import NotFoundError
from schemas.files import KINDS
from warehouse.connection import transaction
from warehouse.deliveries import (
    deliveries,
    deliveries_to_look_at_again,
    displaced_deliveries,
    note_readings,
    unfounded_deliveries,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from pipelines.stages.intake.load import IntakeContext
    from schemas.files import FileKind


@dataclass(frozen=True)
class AskedAgain:
    """What somebody wants tried again.

    Attributes
    ----------
    file_ids : frozenset of str
    accepted : bool
        What these files change is confirmed.
    """

    file_ids: frozenset[str] = frozenset()
    accepted: bool = False


NOTHING_ASKED = AskedAgain()

_FILLING = [kind.name for kind in KINDS.values() if kind.fills]
"""Kinds whose rows take over from those that they replace: these are read together."""


_EVERY = ("held", "loaded", "superseded", "withdrawn")
_ELSE = {
    "held": "Nothing of it counts: `speedworth explain FILE` says why, and it lies in quarantine/.",
    "loaded": "It counts as it is; `speedworth withdraw FILE` takes it back.",
    "superseded": "A newer file stands in its place; `speedworth withdraw FILE` takes that one back.",
    "withdrawn": "Drop it again to have it back.",
}


def find_delivery(con: duckdb.DuckDBPyConnection, named: str, statuses: tuple[str, ...]) -> dict[str, Any]:
    """The file that is meant, as :func:`delivery_named` finds it.

    Raises
    ------
    NotFoundError
        When there is none, or more than one.
    """
    found = delivery_named(con, named, statuses)
    if found is not None:
        return found
    other = delivery_named(con, named, _EVERY)
    if other is not None:
        raise NotFoundError(f"{other['name']} is {other['status']}, not {' or '.join(statuses)}.", _ELSE[other["status"]])
    near = names_like(con, named)
    todo = (
        f"Did you mean {' or '.join(near)}?"
        if near
        else "The Data page lists all files; one that still lies in inbox/ is not among them."
    )
    raise NotFoundError(f"There is no {' or '.join(statuses)} file {named}.", todo)


def names_like(con: duckdb.DuckDBPyConnection, named: str) -> list[str]:
    """Names of files that are written nearly so, the nearest first; few."""
    return get_close_matches(_wanted(named).rpartition("/")[2], deliveries(con)["name"].unique().sort().to_list(), 3, 0.75)


def _wanted(named: str) -> str:
    """A name as files are listed: below the inbox, with / between folders, and marks on their letters."""
    plain = normalize("NFC", named.strip().replace("\\", "/"))  # another system may have marks apart: e and an accent
    return plain.rpartition("/inbox/")[2].removeprefix("inbox/").lstrip("./")


def delivery_named(
    con: duckdb.DuckDBPyConnection, named: str, statuses: tuple[str, ...], *, newest: bool = False
) -> dict[str, Any] | None:
    """The one file of these statuses that is meant: by its name, the end of its path, where it is kept, or the start of its id.

    Where nothing is called so, capitals, an ending that was left out, and folders in front are passed over. None where there is
    none. Of several the one that came last is meant where ``newest`` says so.

    Raises
    ------
    NotFoundError
        When there is more than one.
    """
    there = deliveries(con).filter(pl.col("status").is_in(list(statuses)))
    wanted = _wanted(named)
    if not wanted:
        return None
    name, plain = pl.col("name").str.normalize("NFC"), wanted.lower()
    low, last = name.str.to_lowercase(), plain.rpartition("/")[2]
    own = low.str.split("/").list.last()
    for is_meant in (
        (name == wanted) | (pl.col("kept_as") == wanted) | (pl.col("file_id") == wanted),
        name.str.ends_with(f"/{wanted}")
        | pl.col("kept_as").str.ends_with(f"/{wanted}")
        | (pl.col("file_id").str.starts_with(wanted) if len(wanted) >= 6 else pl.lit(value=False)),
        (low == plain) | low.str.ends_with(f"/{plain}"),
        (own == last) & pl.lit("/" in wanted),
        own.str.replace(r"\.[a-z0-9]+$", "") == last,
    ):
        found = there.filter(is_meant)
        if found.height:
            return _the_one(found.sort("received_at", "modified_at").tail(1) if newest else found, named)
    return None


def _the_one(found: pl.DataFrame, named: str) -> dict[str, Any]:
    if found.height == 1:
        return found.row(0, named=True)
    several = ", ".join(f"{row['file_id'][:8]} ({row['name']}, {row['received_at']:%Y-%m-%d})" for row in found.to_dicts())
    raise NotFoundError(f"Several files are called {named}: {several}.", "Name one by the beginning of its id.")


def held_ids(con: duckdb.DuckDBPyConnection) -> frozenset[str]:
    """All files that are held."""
    return frozenset(deliveries(con).filter(pl.col("status") == "held", pl.col("kept_as") != "")["file_id"])


def read_otherwise(context: IntakeContext, asked: AskedAgain, named: Sequence[Arrival] = ()) -> list[Arrival]:
    """Files that were asked for, and those that a changed mapping or setting would read differently; ``named`` as they are.

    What was loaded through a mapping that is gone, or cannot be used as it is now, stays as it was read.
    """
    apart = [*asked.file_ids, *(arrival.again for arrival in named)]
    there = deliveries(context.con).filter(pl.col("kept_as") != "")
    now = {name: context.readings.reading(name) for name in there["mapping"].unique()}
    if there["reading"].null_count():
        with transaction(context.con):
            note_readings(context.con, pl.DataFrame({"mapping": list(now), "reading": list(now.values())}))
    wanted = there.filter(pl.col("file_id").is_in(list(asked.file_ids)), pl.col("status") != "withdrawn")
    usable = [name for name in now if context.readings.fault(name) is None]
    changed = there.filter(
        (pl.col("status") == "held") | pl.col("mapping").is_in(usable),
        pl.col("status").is_in(["loaded", "held"]) | ((pl.col("status") == "superseded") & pl.col("kind").is_in(_FILLING)),
        ~pl.col("redacted"),
        pl.col("reading") != pl.col("mapping").replace_strict(now, return_dtype=pl.String),
        ~pl.col("file_id").is_in(apart),
    )
    mapped = changed.filter(pl.col("mapping") != "")
    native = changed.filter(pl.col("mapping") == "")
    return [
        *named,
        *_arrivals(context.workspace, wanted, "tried again", accepted=asked.accepted),
        *_arrivals(context.workspace, mapped, "read anew: its mapping or the time zone has changed"),
        *_arrivals(context.workspace, native, "read anew: the time zone has changed"),
    ]


def look_at_again(context: IntakeContext, kind: FileKind) -> list[Arrival]:
    """Files of this kind with rows that named something which has arrived since."""
    return _arrivals(context.workspace, deliveries_to_look_at_again(context.con, kind), "what it waited for has come")


def bring_back(context: IntakeContext, kind: FileKind) -> list[Arrival]:
    """Files of this kind of which rows come back, or have lost their session, since another file stands no more."""
    displaced = displaced_deliveries(context.con, kind)
    unfounded = unfounded_deliveries(context.con, kind).join(displaced, on="file_id", how="anti")
    return [
        *_arrivals(context.workspace, displaced, "what had replaced it was taken back"),
        *_arrivals(context.workspace, unfounded, "its sessions have changed"),
    ]


def _arrivals(workspace: Path, rows: pl.DataFrame, why: str, *, accepted: bool = False) -> list[Arrival]:
    """Kept files as if they came anew; one that somebody took out of the workspace is passed over."""
    found = []
    for row in rows.iter_rows(named=True):
        path = workspace / row["kept_as"]
        if path.is_file():
            stamp = stamp_of(path.lstat())
            found.append(
                Arrival(
                    path, row["name"], row["mapping"], row["modified_at"], stamp, again=row["file_id"], why=why,
                    accepted=accepted, kept=True,
                )
            )  # fmt: skip
    return found
