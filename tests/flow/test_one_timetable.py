"""A workspace has one timetable: a second one is told so before it starts a server."""

from __future__ import annotations

import os
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


_INTAKE = """
import sys
from pipelines.flows.night import intake
state = intake.fn(sys.argv[1])
print(state.is_failed(), state.message)
"""


def test_settings_that_cannot_be_read_are_told_in_a_line_and_noted(tmp_path: Path) -> None:
    """The flow as it is written; the engine would print all that led to an exception, every quarter of an hour."""
    made = create_workspace(tmp_path / "academy")
    made.settings.write_text(made.settings.read_text().replace("intake_every_min = 15", 'intake_every_min = "often"'))
    home = {**os.environ, "PREFECT_HOME": str(tmp_path / "prefect")}
    done = subprocess.run(
        [sys.executable, "-c", _INTAKE, str(made.root)], capture_output=True, text=True, check=False, timeout=300, env=home
    )
    assert done.stdout.startswith("True academy.toml, line "), done.stderr
    assert "[times] intake_every_min is 'often'. Write a whole number from 0 to 1440." in done.stdout
    assert "intake failed: SettingsError" in made.log.read_text()
