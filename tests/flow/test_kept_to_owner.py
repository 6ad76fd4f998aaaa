"""Whatever the machine's habit is, only the user who runs the program can read what it keeps."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tests.flow.conftest import BY_HAND

if TYPE_CHECKING:
    from pipelines.workspace import Workspace

ROOT = Path(__file__).parents[2]


def speedworth(*words: str) -> None:
    """Run a command in a process of its own, under the usual umask."""
    program = "from pipelines.cli.main import run; run()"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", program, *words], check=True, capture_output=True, env=environment, umask=0o022)


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
