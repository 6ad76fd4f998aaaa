"""Whatever the machine's habit is, only the user who runs the program can read what it keeps."""

from __future__ import annotations

import os
import shutil
from typing import TYPE_CHECKING

import pytest

from pipelines.cli.main import main
from tests.flow.conftest import BY_HAND

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from pipelines.workspace import Workspace


@pytest.fixture(autouse=True)
def usual_habit() -> Iterator[None]:
    """The machine's usual umask, under which a new file can be read by everybody."""
    before = os.umask(0o022)
    yield
    os.umask(before)


def speedworth(*words: str) -> None:
    """A command as the console script runs it, under the usual umask."""
    os.umask(0o022)
    assert main(list(words)) == 0


def open_to_others(folder: Path) -> list[str]:
    return [str(path.relative_to(folder)) for path in sorted(folder.rglob("*")) if path.lstat().st_mode & 0o077]


def test_everything_that_is_made_is_for_its_owner(tmp_path: Path) -> None:
    place = tmp_path / "lakeside"
    speedworth("new", str(place))
    assert (place.stat().st_mode & 0o777, open_to_others(place)) == (0o700, [])
    for file in BY_HAND.glob("*.csv"):
        shutil.copy(file, place / "inbox")
        (place / "inbox" / file.name).chmod(0o644)
    (place / "inbox" / "unheard.csv").write_text("a,b\n1,2\n")
    speedworth("run", "-w", str(place), "--quiet")
    speedworth("backup", "--plain", "-w", str(place), "--quiet")
    assert len(list((place / "archive").rglob("*.csv"))) > 3
    assert (place / "site" / "coach" / "index.html").exists()
    assert open_to_others(place) == []


def test_what_an_earlier_version_left_open_is_shut(finished: Workspace) -> None:
    for path in (finished.root, *finished.root.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)
    speedworth("run", "-w", str(finished.root), "--quiet")
    for part in (finished.warehouse, finished.key_file, finished.archive, finished.quarantine, finished.site, finished.backups):
        assert part.stat().st_mode & 0o077 == 0, part
