"""A terminal, or a pipe, that cannot write every letter: signs stand for it, and the command ends as it would."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from pipelines.cli.main import main

if TYPE_CHECKING:
    import pytest


def test_a_letter_that_the_terminal_has_not_ends_no_command(tmp_path: Path) -> None:
    file = tmp_path / "players_Zoë.csv"
    file.write_text("player_id,alias\nP1,Zoë\n", encoding="utf-8")
    script = Path(sys.executable).with_name("speedworth")
    asked = subprocess.run(
        [script, "check", file],
        capture_output=True,
        check=False,
        cwd=tmp_path,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert b"Traceback" not in asked.stderr
    assert asked.returncode == 0
    assert rb"players_Zo\xeb.csv" in asked.stdout


def test_the_bare_command_shows_its_help_as_it_is_written(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in ([], ["key"]):
        assert main(arguments) == 2
        said = capsys.readouterr().err
        assert said.startswith("Usage: speedworth")
        assert "\n  add " in said or "\n  run " in said
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("speedworth ")
