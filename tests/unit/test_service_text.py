"""The timetable described for each system's own way of starting services."""

from __future__ import annotations

import os
import plistlib
import shutil
import subprocess
from pathlib import Path

import pytest

from pipelines.stages.service_text import SYSTEMS, service_text
from schemas.errors import UsageError

COMMAND = ("/opt/speed worth/bin/speedworth",)


def test_launchd_reads_the_command_back(tmp_path: Path) -> None:
    made = service_text("macos", COMMAND, tmp_path / "my academy & co", desk=True)
    content = plistlib.loads(made.text.encode())
    assert content["ProgramArguments"] == [*COMMAND, "schedule", "--desk", "-w", str((tmp_path / "my academy & co").resolve())]
    assert content["RunAtLoad"] is True


def test_systemd_quotes_what_it_would_read_otherwise(tmp_path: Path) -> None:
    text = service_text("linux", COMMAND, tmp_path / '50 % "new" $x', desk=False).text
    (line,) = (line for line in text.splitlines() if line.startswith("ExecStart="))
    assert line.endswith('50 %% \\"new\\" $$x"')
    assert line.startswith('ExecStart="/opt/speed worth/bin/speedworth" "schedule" "-w"')


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not on this machine")
def test_systemd_itself_takes_the_unit(tmp_path: Path) -> None:
    script = tmp_path / "speedworth"
    script.write_text("#!/bin/sh\n")
    script.chmod(0o755)
    unit = tmp_path / "speedworth-x.service"
    unit.write_text(service_text("linux", (str(script),), tmp_path / "a b", desk=True).text)
    environment = {**os.environ, "XDG_RUNTIME_DIR": str(tmp_path)}
    command = ["systemd-analyze", "verify", "--user", str(unit)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 0, done.stderr


def test_the_task_scheduler_gets_each_word_quoted(tmp_path: Path) -> None:
    text = service_text("windows", ("C:\\Program Files\\speedworth.exe",), tmp_path / "a b", desk=False).text
    assert '\\"C:\\Program Files\\speedworth.exe\\" \\"schedule\\"' in text
    with pytest.raises(UsageError):
        service_text("windows", COMMAND, tmp_path / 'a"b', desk=False)


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_path_with_a_line_break_is_refused(system: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="line break"):
        service_text(system, COMMAND, tmp_path / "a\nExecStart=evil", desk=False)


def test_another_system_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no system"):
        service_text("plan9", COMMAND, tmp_path, desk=False)
