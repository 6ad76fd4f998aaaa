"""Fixtures that several kinds of tests share."""

from __future__ import annotations

import gc
import os
import shutil
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import polars as pl
import pytest
from hypothesis import Phase, settings

from pipelines.collector import collect_seldom
from pipelines.stages.intake import AskedAgain, held_ids, take_in
from pipelines.stages.intake.originals import LIST, MAPPINGS
from schemas.academy import Academy
from schemas.files import KINDS
from warehouse import connection
from warehouse.connection import frame, open_warehouse
from warehouse.migrate import audits

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from schemas.results import FileOutcome, IntakeOutcome

# The gate tries the same examples every time; on a maintainer's machine each run tries new ones. No example is timed: what a slow
# or busy machine takes says nothing of the program.
settings.register_profile("gate", derandomize=True, deadline=None)
settings.register_profile("anew", deadline=None)
settings.register_profile("first failure", derandomize=True, deadline=None, phases=(Phase.explicit, Phase.generate))
settings.load_profile("gate" if os.environ.get("CI") == "true" else "anew")
if os.environ.get("FIRST_FAILURE") == "true":  # a changed program is met by any example: none is made smaller
    settings.load_profile("first failure")

collect_seldom()
gc.disable()  # until all tests are collected: what is imported and rewritten for them stays

if os.environ.get("PYTEST_XDIST_WORKER"):
    # The processes that test side by side have the cores between them: of each, the database would start a thread for every core.
    # What tests start as a process of its own, and a run in one process, have all threads.
    connection._SETTINGS["threads"] = 1

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
_CLOCK = 1_770_000_000


_LONGEST_FIRST = ("browser", "flow", "warehouse", "report", "property", "layout")
"""Folders whose files take longest: begun first, none of them is left alone at the end of a run in several processes."""
_LONGEST_FILES = (
    "test_pages", "test_desk_browser", "test_compare", "test_demo_truth", "test_schedule", "test_federation",
    "test_every_command", "test_player", "test_night", "test_retention", "test_kept_whole", "test_commands",
    "test_intake_same_rows", "test_desk_mapping", "test_intake_killed", "test_rebuild", "test_draft_layouts", "test_groups",
    "test_standing_rows", "test_desk_dropped", "test_noninterference", "test_erased_everywhere", "test_publish", "test_desk",
    "test_desk_sheets", "test_intake",
)  # fmt: skip
"""Those that take a quarter of a minute and more, the longest first; they come before others, whatever folder they are in."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The folders whose files take longest come first; last where the first failure is all that is wanted.

    A file of the browser, which is waited for, stands beside one of a flow, which computes: of two processes each gets one.
    """
    if os.environ.get("FIRST_FAILURE") == "true":
        items.sort(key=lambda item: "property" in item.path.parts or "published" in item.path.parts)
        return
    places = _places_of_files([item.path for item in items])
    items.sort(key=lambda item: places[item.path])


def _places_of_files(paths: list[Path]) -> dict[Path, tuple[int, int, int]]:
    """Where each file stands: browser and flow in turn, then the other folders one after the other."""
    flow = _LONGEST_FIRST.index("flow")
    folders: dict[int, list[Path]] = {}
    for path in dict.fromkeys(paths):
        at = next((at for at, name in enumerate(_LONGEST_FIRST) if name in path.parts), len(_LONGEST_FIRST))
        folders.setdefault(min(at, flow) if path.stem in _LONGEST_FILES else at, []).append(path)
    for members in folders.values():
        members.sort(key=lambda path: _LONGEST_FILES.index(path.stem) if path.stem in _LONGEST_FILES else len(paths))
    return {path: (max(at, flow), nth, at) for at, members in folders.items() for nth, path in enumerate(members)}


def pytest_collection_finish() -> None:
    """What was collected stays to the end: garbage is not looked for in it."""
    gc.collect()
    gc.freeze()
    gc.enable()


@dataclass
class DropFolder:
    """A bare workspace in which files can be dropped and taken in; files get older clocks the earlier they are dropped."""

    root: Path
    academy: Academy
    dropped: int = 0

    def drop(self, name: str, content: str | bytes, *, clock: int | None = None) -> Path:
        path = self.root / "inbox" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        self.dropped += 1
        at = _CLOCK + (self.dropped if clock is None else clock)
        os.utime(path, (at, at))
        return path

    def people(self, players: str = "P1 P2 P3", *, consent: str = "true", sessions: str = "S1 S2 S3") -> None:
        """Players of a known age, and a session for each of them in turn; older than all other files."""
        names = players.split()
        self.drop(
            "players.csv",
            "player_id,alias,health_consent,birth_year\n" + "".join(f"{name},{name} x,{consent},2005\n" for name in names),
            clock=-2,
        )
        rows = [f"{one},{names[at % len(names)]},2026-03-14T10:00:00,range\n" for at, one in enumerate(sessions.split())]
        self.drop("sessions.csv", "session_id,player_id,started_at,kind\n" + "".join(rows), clock=-1)

    def run(self, now: datetime = NOW) -> IntakeOutcome:
        with open_warehouse(self.root / "academy.duckdb") as con:
            return take_in(self.root, con, self.academy, now)

    def again(self, *, accepted: bool = False) -> dict[str, FileOutcome]:
        """Every held file tried again."""
        with open_warehouse(self.root / "academy.duckdb") as con:
            asked = AskedAgain(held_ids(con), accepted)
            return {file.name: file for file in take_in(self.root, con, self.academy, NOW, asked=asked).files}

    def files(self, now: datetime = NOW) -> dict[str, FileOutcome]:
        return {file.name: file for file in self.run(now).files}

    def rows(self, sql: str) -> pl.DataFrame:
        with open_warehouse(self.root / "academy.duckdb") as con:
            return frame(con, sql)

    def core(self) -> dict[str, list[tuple[object, ...]]]:
        """All rows of all tables of kinds, without where they came from, sorted."""
        with open_warehouse(self.root / "academy.duckdb") as con:
            return {
                kind.table: sorted(frame(con, f'select * exclude (file_id, line) from "{kind.table}"').rows(), key=str)
                for kind in KINDS.values()
            }

    def faults(self) -> dict[str, list[tuple[object, ...]]]:
        """Audits that found something."""
        with open_warehouse(self.root / "academy.duckdb") as con:
            found = {audit.name: con.execute(audit.sql).fetchall() for audit in audits()}
        return {name: rows for name, rows in found.items() if rows}

    def names(self, folder: str) -> list[str]:
        """Files that came, and lists about them; without the list of originals and the mappings that were kept with them."""
        found = (path for path in (self.root / folder).rglob("*") if path.is_file() or path.is_symlink())
        return sorted(path.name for path in found if path.name != LIST and path.parent.name != MAPPINGS)


def built_once(tmp_path_factory: pytest.TempPathFactory, name: str, build: Callable[[Path], None]) -> Path:
    """A folder that is built by the process that comes first; those that run side by side wait for it."""
    base = tmp_path_factory.getbasetemp()
    root = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / name
    try:
        root.mkdir()
    except FileExistsError:
        deadline = time.monotonic() + 300
        while not (root / "ready").exists():
            assert time.monotonic() < deadline, f"{name}: not built by the other process"
            time.sleep(0.2)
    else:
        build(root)
        (root / "ready").touch()
    return root


@pytest.fixture(scope="session")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty warehouse, to be copied: migrating takes longer than most tests."""
    path = tmp_path_factory.mktemp("migrated") / "academy.duckdb"
    with open_warehouse(path):
        pass
    return path


@pytest.fixture
def new_folder(tmp_path: Path, migrated: Path) -> Callable[[str], DropFolder]:
    """Makes drop folders."""

    def make(name: str) -> DropFolder:
        for part in ("inbox", "mappings", "archive", "quarantine"):
            (tmp_path / name / part).mkdir(parents=True)
        shutil.copy(migrated, tmp_path / name / "academy.duckdb")
        return DropFolder(tmp_path / name, Academy("Lakeside", "Europe/Berlin"))

    return make


@pytest.fixture
def folder(new_folder: Callable[[str], DropFolder]) -> DropFolder:
    """One drop folder."""
    return new_folder("academy")
