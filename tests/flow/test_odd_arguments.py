"""Arguments that are no text, names that no form can hold, and an address at which nobody can listen: one line, nothing done."""

from __future__ import annotations

import socket
import subprocess
import sys
import tomllib
from typing import TYPE_CHECKING

import pytest

from pipelines.cli.main import main
from pipelines.settings import settings_from_text
from pipelines.settings_file import toml_text
from pipelines.workspace import Workspace, create_workspace

if TYPE_CHECKING:
    from pathlib import Path

NO_TEXT = "x\udcff"
"""What Python makes of the byte FF among the arguments of a command: it begins no character of UTF-8 (RFC 3629, section 3)."""


@pytest.mark.parametrize(
    "command",
    [
        *(["player", "export"], ["player", "erase", "--yes"], ["key", "add", "--role", "coach"], ["key", "remove"]),
        *(["explain"], ["links", "renew"], ["flags", "--player"], ["trial", "plan", "p1", "--question"], ["new"]),
    ],
    ids=" ".join,
)
def test_bytes_that_are_no_text_are_refused(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    create_workspace(tmp_path / "academy")
    before = sorted(tmp_path.rglob("*"))
    assert main([*command, NO_TEXT, *([] if command == ["new"] else ["-w", "academy"])]) == 2
    told = capsys.readouterr().err
    assert told.startswith("Error: 'x\\udcff' holds bytes that are no text here.")
    assert told.count("\n") == 1
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("name", ["one\nline", 'a "quoted" one', "back\\slash", "tab\tbed", "Hügel", "bell\x07", "gone\x7f"])
def test_a_folder_of_any_name_becomes_a_workspace_that_can_be_read(name: str, tmp_path: Path) -> None:
    made = create_workspace(tmp_path / name)
    assert settings_from_text(made.settings.read_text(encoding="utf-8")).name == name
    assert tomllib.loads(f"name = {toml_text(name)}") == {"name": name}


def test_a_folder_whose_name_is_no_text_becomes_one_too(tmp_path: Path) -> None:
    made = create_workspace(tmp_path / NO_TEXT)
    assert made.academy().name == "x?"


@pytest.mark.parametrize("name", ["", " ", "anna ", "an\nna", "x" * 61])
def test_a_key_has_a_name_that_can_be_typed(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = create_workspace(tmp_path / "academy")
    at = ["-w", str(made.root)]
    assert main(["key", "add", name, "--role", "coach", *at]) == 2
    assert "cannot be the name of a key. Use 1 to 60" in capsys.readouterr().err
    assert main(["key", "add", "Anna B. (U16)", "--role", "coach", *at]) == 0
    capsys.readouterr()
    assert main(["key", "list", *at]) == 0
    assert "Anna B. (U16)" in capsys.readouterr().out


def test_why_nobody_can_listen_there_is_said(finished: Workspace) -> None:
    """In a process of its own: beside tests of a browser a loop of events runs in this one, and a server cannot begin."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        command = [sys.executable, "-c", "from pipelines.cli.main import run; run()", "desk", "-w", str(finished.root)]
        done = subprocess.run([*command, "--port", str(port)], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    told = done.stderr.splitlines()[-1]
    assert f"127.0.0.1:{port}: Address already in use. Choose another --port" in told
