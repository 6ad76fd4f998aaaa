"""Every command has what the house asks of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
import typer.main

from pipelines.cli.main import app, main
from schemas.errors import SpeedworthError

if TYPE_CHECKING:
    from collections.abc import Iterator


def leaves() -> Iterator[tuple[str, object]]:
    for name, command in typer.main.get_command(app).commands.items():  # type: ignore[attr-defined]
        inner = getattr(command, "commands", None)
        yield from ((f"{name} {below}", leaf) for below, leaf in inner.items()) if inner else ((name, command),)


LEAVES = dict(leaves())


def kinds(kind: type[SpeedworthError]) -> Iterator[type[SpeedworthError]]:
    yield kind
    for below in kind.__subclasses__():
        yield from kinds(below)


@pytest.mark.parametrize("name", sorted(LEAVES))
def test_a_command_has_help_with_an_example_of_itself(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*name.split(), "--help"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert f"Example: speedworth {name}" in shown


@pytest.mark.parametrize("name", sorted(LEAVES))
def test_a_command_can_be_quiet_and_is_told_its_workspace(name: str) -> None:
    options = {option for parameter in LEAVES[name].params for option in parameter.opts}  # type: ignore[attr-defined]
    assert "--quiet" in options
    if name not in {"new", "demo", "licences", "federation new"}:  # three make a folder, one is about the program
        assert {"-w", "--workspace"} <= options


@pytest.mark.parametrize("name", sorted(LEAVES))
def test_the_first_line_of_its_help_fits_the_list_of_commands(name: str) -> None:
    first = (LEAVES[name].help or "").splitlines()[0]  # type: ignore[attr-defined]
    assert 10 < len(first) <= 110


def test_exit_codes_are_distinct_and_documented(capsys: pytest.CaptureFixture[str]) -> None:
    codes = [kind.exit_code for kind in kinds(SpeedworthError)]
    assert len(codes) == len(set(codes))
    assert main(["--help"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for code in codes:
        assert f" {code} " in shown.partition("Exit codes:")[2]
