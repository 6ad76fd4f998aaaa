"""Making the warehouse anew from the archive: every kept original is taken in again as it was, night by night, at its own time.

It is done in a folder beside; the warehouse that stands is only moved aside when the new one is whole. What a kept copy cannot
tell any more (rows that nobody may keep, files that are held) comes from the list of originals.
"""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass
from itertools import chain, groupby
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.audit_log import note
from pipelines.stages.intake.discover import Arrival, kind_of, stamp_of
from pipelines.stages.intake.originals import LIST, MAPPINGS, Original, problem_rows, read_list
from pipelines.stages.intake.take import take_arrivals
from pipelines.workspace import writing
from schemas.core import core_tables
from schemas.errors import NotFoundError, WarehouseCorruptError
from schemas.files import KINDS
from warehouse.connection import open_warehouse, transaction
from warehouse.deliveries import withdraw_delivery
from warehouse.files import keep_places, ledger_rows, put_ledger

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import datetime

    import duckdb

    from pipelines.workspace import Workspace
    from schemas.academy import Academy

_NOT_READ = ("held",)
_BESIDE = ".rebuild"
_COUNTS = ("kind", "status", "superseded_by", "n_rows", "n_loaded", "n_quarantined", "n_ignored", "n_warnings")


@dataclass(frozen=True)
class Rebuilt:
    """What was made.

    Attributes
    ----------
    n_files, n_rows : int
        Deliveries in the new ledger, and rows that they brought.
    differing : tuple of str
        Files of which other rows were loaded than the list of originals tells.
    left_out : tuple of str
        Originals that are gone or damaged, below the workspace.
    aside : Path or None
        Where the former warehouse lies.
    """

    n_files: int
    n_rows: int
    differing: tuple[str, ...]
    left_out: tuple[str, ...]
    aside: Path | None


def rebuild(
    workspace: Workspace, now: datetime, *, incomplete: bool = False, tell: Callable[[str], None] = lambda _: None
) -> Rebuilt:
    """Make the warehouse anew from what is kept; pages follow with the next run.

    Parameters
    ----------
    workspace : Workspace
    now : datetime
        UTC.
    incomplete : bool
        Go on without originals that are gone or damaged.
    tell : callable
        Called with the name of each step.

    Raises
    ------
    NotFoundError
        When there is no list of originals.
    WarehouseCorruptError
        When the list or an original is damaged, and ``incomplete`` was not asked for.
    WarehouseBusyError
        When a run is at work.
    """
    academy = workspace.academy()
    with writing(workspace, "a rebuild"):
        originals = listed_originals(workspace)
        tell("Checking originals")
        damaged = damaged_originals(workspace, originals)
        if damaged and not incomplete:
            raise _incomplete(damaged)
        beside = workspace.root / _BESIDE
        shutil.rmtree(beside, ignore_errors=True)
        try:
            return _rebuilt(workspace, beside, academy, now, originals, damaged, tell)
        finally:
            shutil.rmtree(beside, ignore_errors=True)


def listed_originals(workspace: Workspace) -> list[Original]:
    """The list of originals.

    Raises
    ------
    NotFoundError
        When there is none.
    WarehouseCorruptError
        When it is damaged.
    """
    path = workspace.archive / LIST
    if not path.is_file():
        raise NotFoundError(
            f"There is no list of originals {path}.",
            "A run writes it; without it, bring back a copy with `speedworth restore BACKUP`.",
        )
    return read_list(path)


def _incomplete(damaged: tuple[str, ...]) -> WarehouseCorruptError:
    more = f" and {len(damaged) - 1} more" if len(damaged) > 1 else ""
    return WarehouseCorruptError(
        f"{damaged[0]}{more} is gone, or not what was archived.",
        "Put it back from a backup, or go on without with `speedworth rebuild --incomplete`.",
    )


def damaged_originals(workspace: Workspace, originals: Iterable[Original]) -> tuple[str, ...]:
    """Kept originals that are gone, or whose content is not the one that was taken in, below the workspace.

    A copy from which rows were taken out has another content, and is only looked for.
    """
    texts = _mapping_texts(workspace)
    return tuple(one.ledger["kept_as"] for one in originals if one.ledger["kept_as"] and not _is_whole(workspace, one, texts))


def _mapping_texts(workspace: Workspace) -> tuple[bytes, ...]:
    found = [*workspace.mappings.glob("*.toml"), *(workspace.archive / MAPPINGS).glob("*.toml")]
    return tuple(sorted({path.read_bytes() for path in found}))


def _is_whole(workspace: Workspace, one: Original, texts: tuple[bytes, ...]) -> bool:
    """Whether the content is the one by which the delivery was named, alone or with a mapping and the names that it asks for."""
    place = workspace.root / str(one.ledger["kept_as"])
    if not place.is_file():
        return place.is_dir()  # a folder that was dropped and is held
    if one.ledger["redacted"] or not one.ledger["bytes"]:
        return True
    digest = hashlib.sha256(place.read_bytes())
    named = str(one.ledger["mapping"] or "").encode("utf-8", "surrogateescape")  # of a mapping that was not there
    if not named:
        return one.file_id in {digest.hexdigest(), _continued(digest, kind_of(one.ledger["name"]).encode())}
    read_through = chain((named, *texts), (text + names for text in texts for names in texts))
    return one.file_id in (_continued(digest, hashlib.sha256(text).digest()) for text in read_through)


def _continued(digest: hashlib._Hash, more: bytes) -> str:
    whole = digest.copy()
    whole.update(more)
    return whole.hexdigest()


def _rebuilt(
    workspace: Workspace,
    beside: Path,
    academy: Academy,
    now: datetime,
    originals: list[Original],
    damaged: tuple[str, ...],
    tell: Callable[[str], None],
) -> Rebuilt:
    for name in ("archive", "quarantine", "mappings"):
        (beside / name).mkdir(parents=True)
    whole = [one for one in originals if one.ledger["kept_as"] not in damaged or one.ledger["status"] in _NOT_READ]
    with open_warehouse(beside / workspace.warehouse.name) as con:
        taken_back = [one for one in whole if one.ledger["status"] == "withdrawn"]
        standing = [one for one in whole if one.ledger["status"] != "withdrawn"]
        for at, group in groupby(standing, key=lambda one: one.ledger["received_at"]):
            tell(f"Taking in again what came {at:%Y-%m-%d %H:%M}")
            _take_in_again(workspace, beside, con, academy, at, list(group))
        if taken_back:
            _take_back_again(workspace, beside, con, academy, taken_back)
        differing = _put_told_ledger(con, whole)
        ledger = ledger_rows(con)
        con.execute("checkpoint").fetchall()  # on closing a full disk would say nothing, and leave the rows in a log beside
    aside = _exchange(workspace, beside, now)
    note(workspace, now, "rebuild", files=ledger.height, differing=len(differing), left_out=len(damaged))
    return Rebuilt(ledger.height, int(ledger["n_loaded"].sum()), differing, damaged, aside)


def _take_in_again(
    workspace: Workspace, beside: Path, con: duckdb.DuckDBPyConnection, academy: Academy, at: datetime, group: list[Original]
) -> None:
    for path in (beside / "mappings").iterdir():
        path.unlink()
    arrivals = []
    for one in group:
        if one.ledger["status"] in _NOT_READ or not one.ledger["kept_as"]:
            continue
        _lay_texts(workspace, beside, one)
        arrivals.append(_arrival(workspace, beside, one))
    take_arrivals(beside, con, academy, at, arrivals)


def _take_back_again(
    workspace: Workspace, beside: Path, con: duckdb.DuckDBPyConnection, academy: Academy, taken_back: list[Original]
) -> None:
    """Files that somebody took back: read last, so that the keys of their rows are known, and taken back again."""
    for one in taken_back:
        _take_in_again(workspace, beside, con, academy, one.ledger["received_at"], [one])
        with transaction(con):
            withdraw_delivery(con, KINDS[one.ledger["kind"]], one.file_id)
    take_arrivals(beside, con, academy, taken_back[-1].ledger["received_at"], [])


def _lay_texts(workspace: Workspace, beside: Path, one: Original) -> None:
    for name, sha256 in one.texts.items():
        source = workspace.archive / MAPPINGS / f"{sha256}.toml"
        if source.is_file():
            shutil.copyfile(source, beside / "mappings" / name)


def _arrival(workspace: Workspace, beside: Path, one: Original) -> Arrival:
    """A kept original as it came, copied beside: what is worked with is moved about."""
    ledger, place = one.ledger, beside / one.ledger["kept_as"]
    place.parent.mkdir(exist_ok=True)
    shutil.copyfile(workspace.root / one.ledger["kept_as"], place)
    stamp = stamp_of(place.lstat())
    return Arrival(
        place, ledger["name"], ledger["mapping"] or "", ledger["modified_at"], stamp, again=one.file_id, accepted=True, kept=True
    )


def _put_told_ledger(con: duckdb.DuckDBPyConnection, originals: list[Original]) -> tuple[str, ...]:
    """Let the ledger say what it said; returns the files of which it would say something else."""
    told = pl.DataFrame([one.ledger for one in originals], schema=core_tables()["file"].polars_schema())
    made = ledger_rows(con)
    read_again = told.filter(~pl.col("status").is_in(_NOT_READ), ~pl.col("redacted"), pl.col("kept_as") != "").select(
        "file_id", "name", *_COUNTS
    )
    met = read_again.join(made.select("file_id", *_COUNTS), on=["file_id", *_COUNTS], how="anti", nulls_equal=True)
    kept = [one for one in originals if one.ledger["status"] in _NOT_READ or one.ledger["redacted"] or not one.ledger["kept_as"]]
    with transaction(con):
        problems = problem_rows(kept)
        lacking = told.filter(pl.col("file_id").is_in([one.file_id for one in kept]))
        put_ledger(con, lacking, problems)
        keep_places(con, told.select("file_id", "name", "mapping", "kept_as"))
    return tuple(met["name"].sort())


def _exchange(workspace: Workspace, beside: Path, now: datetime) -> Path | None:
    """Put the new warehouse in place of the old one, which is kept."""
    aside: Path | None = None
    old = [
        path for path in (workspace.warehouse, workspace.warehouse.with_name(workspace.warehouse.name + ".wal")) if path.exists()
    ]
    if old:
        aside = workspace.backups / f"replaced-{now:%Y-%m-%dT%H%M%SZ}"
        aside.mkdir(exist_ok=True)
        for path in reversed(old):  # the log first: without its warehouse it would be read into the new one
            shutil.move(path, aside / path.name)
    (beside / workspace.warehouse.name).replace(workspace.warehouse)
    return aside
