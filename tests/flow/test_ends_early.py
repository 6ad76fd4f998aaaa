"""A command that does not come to its end: a compiled file that is cut off, a stream that is gone, a person who stops it."""

from __future__ import annotations

import importlib
import io
import py_compile
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import typer
from typer.main import get_command

from pipelines.cli import main
from schemas.errors import ProgramError
from tests.flow.conftest import typed

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def ends_early(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], object]], None]:
    """Put a command in place of all others."""

    def instead(work: Callable[[], object]) -> None:
        app = typer.Typer()
        app.command()(lambda: work() and None)
        monkeypatch.setattr(main, "_command", lambda: get_command(app))

    monkeypatch.syspath_prepend(str(tmp_path))
    return instead


def test_a_compiled_file_that_is_cut_off_is_told_as_that(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ends_early: Callable[[Callable[[], object]], None]
) -> None:
    source = tmp_path / "compiled_once.py"
    source.write_text("NUMBERS = tuple(range(9))\n")
    compiled = Path(str(py_compile.compile(str(source), doraise=True)))
    compiled.write_bytes(compiled.read_bytes()[:40])
    ends_early(lambda: importlib.import_module("compiled_once"))
    code, _, err = typed(capsys)
    assert code == ProgramError.exit_code
    assert (
        err.strip() == f"Error: A compiled file of the program is cut off: {compiled}. Remove it and try again: it is made anew."
    )
    compiled.unlink()
    assert typed(capsys)[0] == 0


def test_what_ends_early_is_a_fault_and_a_person_who_stops_is_none(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    ends_early: Callable[[Callable[[], object]], None],
) -> None:
    def cut_off() -> None:
        raise EOFError("the stream is gone")

    ends_early(cut_off)
    code, _, err = typed(capsys)
    assert code == 1
    assert err.strip() == "Error: What was being read ended too early (the stream is gone). Try again."

    def stopped() -> None:
        raise KeyboardInterrupt

    ends_early(stopped)
    code, _, err = typed(capsys)
    assert (code, err.strip()) == (130, "Stopped.")
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    ends_early(lambda: typer.confirm("Go on?"))
    assert typed(capsys)[0] == 130
