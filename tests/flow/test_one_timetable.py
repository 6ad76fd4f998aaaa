"""A workspace has one timetable: a second one is told so before it starts a server."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

from pipelines.flows.timetable import alone
from pipelines.workspace import create_workspace

if TYPE_CHECKING:
    from pathlib import Path

_COMMAND = [sys.executable, "-c", "from pipelines.cli.main import run; run()", "schedule", "-w"]


def test_a_second_timetable_is_refused_and_one_after_the_first_is_not(tmp_path: Path) -> None:
    made = create_workspace(tmp_path / "academy")
    with alone(made):
        done = subprocess.run([*_COMMAND, str(made.root)], capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 11
    assert done.stderr.startswith(f"Error: Another timetable serves {made.root} already. Leave it to that one;")
    assert "server" not in done.stderr
    with alone(made):
        pass
