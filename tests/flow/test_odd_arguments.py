"""Arguments that are no text, names that no form can hold, and an address at which nobody can listen: one line, nothing done."""

from __future__ import annotations

import re
import shlex
import shutil
import socket
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from pipelines.cli import academy
from pipelines.cli.main import main
from pipelines.settings import settings_from_text
from pipelines.settings_file import toml_text
from pipelines.workspace import Workspace, create_workspace
from tests.flow.conftest import refused

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


@pytest.mark.parametrize("name", ["", " "])
@pytest.mark.parametrize(
    "command",
    [
        *(["new"], ["demo"], ["check"], ["map"], ["restore"], ["export", "marts"], ["publish", "--audience", "coach"]),
        *(["federation", "new"], ["run", "-w"], ["backup", "--new-key"], ["federation", "report", "-w"]),
    ],
    ids=" ".join,
)
def test_an_empty_name_is_not_the_current_folder(
    command: list[str], name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([*command, name]) == 2
    told = capsys.readouterr().err
    assert "the name is empty. Write . for the current folder." in told
    assert told.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_every_command_takes_no_empty_name_for_a_folder_or_file() -> None:
    """Whatever is a path is read by the one function that refuses an empty name."""
    texts = [path.read_text() for path in (Path(academy.__file__).parent).glob("*.py")]
    paths = re.findall(r"Path(?: \| None)?,\s+typer\.(?:Argument|Option)\(([^)]*)", "\n".join(texts))
    assert len(paths) > 12
    assert [path for path in paths if "parser=named_place" not in path] == []


def test_a_passphrase_is_long_and_stands_on_no_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = create_workspace(tmp_path / "academy")
    at = ["-w", str(made.root)]
    assert main(["backup", "--passphrase", "hunter2hunter2", *at]) == 2
    told = capsys.readouterr().err
    assert "A passphrase is not written on the command line" in told
    assert "hunter2" not in told
    monkeypatch.setenv(academy.PASSPHRASE, "eleven char")
    assert main(["backup", "--passphrase", *at]) == 2
    assert "A passphrase of 11 characters is soon found by trying. Take 12 or more" in capsys.readouterr().err
    assert not list(made.backups.glob("*.age"))
    monkeypatch.setenv(academy.PASSPHRASE, "twelve chars")
    assert main(["backup", "--passphrase", *at]) == 0
    copy = capsys.readouterr().out.strip()
    assert main(["restore", copy, "--passphrase", "-w", str(tmp_path / "again")]) == 0


def test_nobody_publishes_everything_at_the_top_of_a_disk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = create_workspace(tmp_path / "academy")
    assert main(["publish", "/", "--all", "-w", str(made.root)]) == 3
    assert "/ is the uppermost folder of the disk; nothing was published." in capsys.readouterr().err


def test_commands_that_are_printed_can_be_pasted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """From an empty folder to a mapping that reads the coach's own list, by what is printed alone; names hold a blank."""
    monkeypatch.chdir(tmp_path)
    assert main(["new", "our $academy"]) == 0
    told = capsys.readouterr().err
    Path("my list.csv").write_text("Kennung;Name;Jahrgang\np1;Alder;2008\np2;Birch;2009\n")
    shutil.copy("my list.csv", "our $academy/inbox")
    assert _pasted(told) == ["run", "-w", "our $academy"]
    assert main(_pasted(told)) == 0
    assert "`speedworth map FILE --to NAME`" in capsys.readouterr().err
    assert main(["map", "my list.csv", "--to", "lists", "-w", "our $academy"]) == 0
    told = capsys.readouterr().err
    into = re.search(r"copy the file into (.*), and: ", told)
    assert into
    assert Path(into[1]).is_dir(), "it is there to copy into"
    shutil.copy("my list.csv", into[1])
    assert main(_pasted(told)) == 0
    assert "lists/my list.csv  loaded" in capsys.readouterr().out


def _pasted(told: str) -> list[str]:
    """The words of the command at the end of what was printed, as a shell takes them."""
    return shlex.split(told.strip().splitlines()[-1].rpartition(": speedworth ")[2])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("flags", "--since", "gestern"), "'gestern' is no day. Write it as year-month-day: 2026-03-14."),
        (("since", "heron", "01.10.2025"), "'01.10.2025' is no day. Write it as year-month-day: 2026-03-14."),
        (("flags", "--for", "boss"), "Invalid value for '--for': 'boss' is not one of"),
    ],
)
def test_a_wrong_value_is_told_in_plain_words(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str) -> None:
    code, told = refused(capsys, *words)
    assert code == 2
    assert said in told
    assert "Value error" not in told


def test_a_certificate_that_is_not_there_is_told_before_an_address_is_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    create_workspace(tmp_path / "academy")
    said = refused(capsys, "desk", "--tls-cert", "x.pem", "--tls-key", "y.pem", "-w", tmp_path / "academy")
    assert said == (2, "Error: There is no file x.pem. Certificate and key are PEM files: give where they lie.")
