"""The timetable described for each system's own way of starting services."""

from __future__ import annotations

import os
import plistlib
import shutil
import subprocess
from pathlib import Path

import pytest

from pipelines.stages.service_text import SYSTEMS, Part, service_text, timetable
from schemas.errors import UsageError

COMMAND = ("/opt/speed worth/bin/speedworth",)


def test_launchd_reads_the_command_back(tmp_path: Path) -> None:
    made = service_text("macos", COMMAND, tmp_path / "my academy & co", timetable(desk=True))
    content = plistlib.loads(made.text.encode())
    assert content["ProgramArguments"] == [*COMMAND, "schedule", "--desk", "-w", str((tmp_path / "my academy & co").resolve())]
    assert content["RunAtLoad"] is True


def test_systemd_quotes_what_it_would_read_otherwise(tmp_path: Path) -> None:
    text = service_text("linux", COMMAND, tmp_path / '50 % "new" $x', timetable(desk=False)).text
    (line,) = (line for line in text.splitlines() if line.startswith("ExecStart="))
    assert line.endswith('50 %% \\"new\\" $$x"')
    assert line.startswith('ExecStart="/opt/speed worth/bin/speedworth" "schedule" "-w"')


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not on this machine")
def test_systemd_itself_takes_the_unit(tmp_path: Path) -> None:
    script = tmp_path / "speedworth"
    script.write_text("#!/bin/sh\n")
    script.chmod(0o755)
    unit = tmp_path / "speedworth-x.service"
    unit.write_text(service_text("linux", (str(script),), tmp_path / "a b", timetable(desk=True)).text)
    environment = {**os.environ, "XDG_RUNTIME_DIR": str(tmp_path)}
    command = ["systemd-analyze", "verify", "--user", str(unit)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 0, done.stderr


def test_the_task_scheduler_gets_each_word_quoted(tmp_path: Path) -> None:
    text = service_text("windows", ("C:\\Program Files\\speedworth.exe",), tmp_path / "a b", timetable(desk=False)).text
    assert '\\"C:\\Program Files\\speedworth.exe\\" \\"schedule\\"' in text
    with pytest.raises(UsageError):
        service_text("windows", COMMAND, tmp_path / 'a"b', timetable(desk=False))


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_path_with_a_line_break_is_refused(system: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="line break"):
        service_text(system, COMMAND, tmp_path / "a\nExecStart=evil", timetable(desk=False))


def test_another_system_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no system"):
        service_text("plan9", COMMAND, tmp_path, timetable(desk=False))


def test_a_worker_and_a_server_have_services_of_their_own(tmp_path: Path) -> None:
    worker = Part("federation worker", ("federation", "worker", "--machine", "clubhouse"), "worker")
    made = service_text("linux", COMMAND, tmp_path / "coast", worker)
    assert "Description=speedworth: federation worker of coast\n" in made.text
    assert f'"federation" "worker" "--machine" "clubhouse" "-w" "{tmp_path / "coast"}"' in made.text
    assert "speedworth-worker-coast.service" in made.todo[0]
    names = {service_text("macos", COMMAND, tmp_path / "coast", part).todo[0] for part in (worker, timetable(desk=False))}
    assert len(names) == 2
