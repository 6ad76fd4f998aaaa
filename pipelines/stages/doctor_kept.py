"""Examining what is kept: blocks of the warehouse, originals, pages, links, and the newest backup."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.backup import sha256_of, sums_of
from pipelines.stages.finding import Finding, broken
from pipelines.stages.intake.originals import LIST
from pipelines.stages.intake.reading import Readings
from pipelines.stages.rebuild import damaged_originals, listed_originals
from pipelines.stages.seal import is_encrypted
from pipelines.stages.unpack import unpack
from reports.shelf import damaged_files
from schemas.errors import SpeedworthError, WarehouseCorruptError, WorkspaceError
from warehouse.blocks import read_through
from warehouse.connection import open_warehouse
from warehouse.deliveries import deliveries

if TYPE_CHECKING:
    import duckdb

    from pipelines.workspace import Workspace


def block_findings(con: duckdb.DuckDBPyConnection) -> list[Finding]:
    """Whether every block of the warehouse can be read."""
    try:
        return [Finding("blocks", f"{read_through(con)} tables read through")]
    except WarehouseCorruptError as fault:
        return [broken("blocks", fault)]


def mapping_findings(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Finding]:
    """Whether every mapping that loaded files were read through is there, and can be used."""
    readings = Readings.of(workspace.mappings, workspace.academy(), con)
    loaded = deliveries(con).filter(pl.col("status") == "loaded", pl.col("mapping") != "")
    told = []
    for name, n in loaded.group_by("mapping").len().sort("mapping").iter_rows():
        found = readings.fault(name)
        if found is not None:
            why = "is gone" if found.rule == "no_mapping" else f"cannot be used: {found.value.rstrip('.')}"
            told.append(f"{name}.toml {why} ({n} {'file' if n == 1 else 'files'})")
    if told:
        todo = "What was read through them stays. Put them right; copies of what they were lie in archive/mappings."
        return [Finding("mappings", "; ".join(told), "look", todo)]
    return [Finding("mappings", "as needed")]


_COPY = re.compile(
    r"(?i)(?P<stem>.+?)(?: \(\d+\)| ?\([^)]*(?:conflict|konflikt)[^)]*\)|[. -]sync-conflict-.*| - (?:copy|kopie).*)"
)


def copy_findings(workspace: Workspace) -> list[Finding]:
    """Copies that a synchronised folder, or a hand, has laid beside what the workspace reads: nobody reads those."""
    folders = (workspace.root, workspace.mappings, workspace.archive)
    told = []
    for path in sorted(path for folder in folders if folder.is_dir() for path in folder.iterdir()):
        copy = _COPY.fullmatch(path.stem)
        if copy and path.with_name(copy["stem"] + path.suffix).exists():
            told.append(str(path.relative_to(workspace.root)))
    if not told:
        return []
    todo = (
        "Nothing reads them: look which one is right, and move the others away. Where another machine writes here too, let one "
        "alone do the nights, and leave the folder out of what is synchronised."
    )
    return [Finding("copies", ", ".join(told), "look", todo)]


def original_findings(workspace: Workspace) -> list[Finding]:
    """Whether each original is what was taken in."""
    if not (workspace.archive / LIST).is_file():
        return [Finding("originals", "none yet")]
    try:
        originals = listed_originals(workspace)
    except SpeedworthError as fault:
        return [broken("originals", fault)]
    damaged = damaged_originals(workspace, originals)
    if not damaged:
        return [Finding("originals", f"{len(originals)} as they came")]
    says = f"{len(damaged)} of {len(originals)} gone or changed, {damaged[0]} among them"
    return [Finding("originals", says, "broken", "Put them back from a backup.", WarehouseCorruptError.exit_code)]


def page_findings(workspace: Workspace) -> list[Finding]:
    """Whether each page is what was written."""
    if not workspace.site.is_dir() or not any(workspace.site.iterdir()):
        return [Finding("pages", "none yet")]
    damaged = damaged_files(workspace.site)
    if not damaged:
        return [Finding("pages", "as they were written")]
    says = f"{len(damaged)} gone, changed or put in, {min(damaged)} among them"
    return [Finding("pages", says, "look", "They are written anew by `speedworth run`.")]


def link_findings(workspace: Workspace) -> list[Finding]:
    """Whether links lie among what is kept: nothing of ours is one, and backups leave them out."""
    folders = (workspace.archive, workspace.quarantine, workspace.mappings, workspace.backups)
    links = [path for folder in folders for path in sorted(folder.rglob("*")) if path.is_symlink()]
    if not links:
        return [Finding("links", "none")]
    told = f"{len(links)}, {links[0].relative_to(workspace.root)} among them"
    return [Finding("links", told, "look", "speedworth makes none: remove them; backups leave them out.")]


def backup_findings(workspace: Workspace) -> list[Finding]:
    """Whether the newest backup is what was written, and can be brought back."""
    copies = sorted(path for path in workspace.backups.glob("speedworth-*.tar.gz*") if path.is_file())
    if not copies:
        if not (workspace.archive / LIST).is_file():
            return [Finding("backup", "none yet")]
        return [Finding("backup", "none", "look", "Make one with `speedworth backup`, and keep it on another disk.")]
    try:
        return [_tried(workspace, copies[-1])]
    except SpeedworthError as fault:
        return [broken("backup", fault)]
    except OSError as fault:
        return [
            Finding("backup", f"{copies[-1].name} could not be tried: {fault.strerror}", "look", "Make room, then try again.")
        ]


def _tried(workspace: Workspace, copy: Path) -> Finding:
    told = sums_of(workspace).get(copy.name)
    if told is not None and told != sha256_of(copy):
        raise WorkspaceError(f"{copy.name} is not what was written.", "Make another with `speedworth backup`.")
    if is_encrypted(copy):
        if told is None:
            return Finding(
                "backup", f"{copy.name}: encrypted, not made here", "look", "Try it with `speedworth restore` elsewhere."
            )
        return Finding("backup", f"{copy.name}: encrypted, as it was written and read again then")
    with tempfile.TemporaryDirectory(dir=workspace.backups, prefix=".part-") as folder:
        key = workspace.backup_key_file
        contents = unpack(copy, Path(folder), key.read_bytes() if key.is_file() else None)
        warehouse = Path(folder) / workspace.warehouse.name
        if warehouse.exists():
            with open_warehouse(warehouse) as con:
                read_through(con)
    says = f"{copy.name}: brought back on trial, {len(contents.files)} files; not encrypted"
    return Finding("backup", says, "look", "Before it leaves this machine, name a key with `speedworth backup --new-key FILE`.")
