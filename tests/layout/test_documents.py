"""What documents say about commands, columns and pinned versions is what the program has."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer.main

from pipelines.cli.main import app
from schemas.dictionary import dictionary_text

ROOT = Path(__file__).parents[2]
DOCUMENTS = [path for path in (ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md") if path.exists()]


def commands() -> set[str]:
    """Every command as typed after ``speedworth``: ``run``, ``trial plan``."""
    names = set()
    for name, command in typer.main.get_command(app).commands.items():  # type: ignore[attr-defined]
        names |= {f"{name} {inner}" for inner in getattr(command, "commands", {})} or {name}
    return names


def named_in(text: str) -> set[str]:
    """First words after each ``speedworth`` in code, and the command table of the README."""
    typed = re.findall(
        r"(?:speedworth|bin/speedworth)[ ]+([a-z]+(?: [a-z]+)?)", "\n".join(re.findall(r"`[^`]+`|^ {4}.*$", text, re.MULTILINE))
    )
    tabled = [
        name for row in re.findall(r"^\| (`[^|]+) \|", text, re.MULTILINE) for name in re.findall(r"`([a-z]+(?: [a-z]+)?)`", row)
    ]
    return {*typed, *tabled}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_every_command_that_a_document_names_exists(document: Path) -> None:
    known = commands()
    first_words = {name.split()[0] for name in known}
    unknown = {name for name in named_in(document.read_text()) if name not in known and name.split()[0] not in first_words}
    assert unknown == set()


def test_every_command_stands_in_the_readme() -> None:
    assert sorted(commands() - named_in((ROOT / "README.md").read_text())) == []


def test_every_make_target_that_a_document_names_exists() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))
    named = {target for path in DOCUMENTS for target in re.findall(r"(?:`|^ {4})make ([a-z]+)", path.read_text(), re.MULTILINE)}
    assert named
    assert sorted(named - targets) == []


def test_every_relative_link_of_a_document_leads_to_a_file() -> None:
    links = {(path.name, link) for path in DOCUMENTS for link in re.findall(r"\]\(([^)#:]+)\)", path.read_text())}
    assert [pair for pair in sorted(links) if not (ROOT / pair[1]).exists()] == []


def test_the_data_dictionary_is_current() -> None:
    assert (ROOT / "schemas" / "DICTIONARY.md").read_text() == dictionary_text(), "run `make dictionary`"


def test_constraints_are_names_and_versions_and_hold_no_address() -> None:
    lines = [line for line in (ROOT / "constraints.txt").read_text().splitlines() if line and not line.startswith("#")]
    assert [line for line in lines if not re.fullmatch(r"[A-Za-z0-9._-]+(\[[a-z,]+\])?==[A-Za-z0-9.!+]+( ?;.*)?", line)] == []
