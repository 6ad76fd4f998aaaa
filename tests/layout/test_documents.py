"""What documents say about commands, columns and pinned versions is what the program has."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import typer.main

from pipelines.cli.main import app
from schemas.dictionary import dictionary_text

ROOT = Path(__file__).parents[2]
DOCUMENTS = [*sorted(ROOT.glob("*.md")), *sorted((ROOT / "tests").rglob("*.md"))]


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


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
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
    links = {(path, link) for path in DOCUMENTS for link in re.findall(r"\]\(([^)#:]+)\)", path.read_text())}
    assert [pair for pair in sorted(links) if not (pair[0].parent / pair[1]).exists()] == []


def test_the_data_dictionary_is_current() -> None:
    assert (ROOT / "schemas" / "DICTIONARY.md").read_text() == dictionary_text(), "run `make dictionary`"


def _lock() -> dict[str, tuple[str, list[str]]]:
    """Package to version and marker, and the checksums of its files."""
    text = re.sub(r" \\\n *", " ", (ROOT / "constraints.txt").read_text())
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    found = {}
    for line in lines:
        told = re.fullmatch(r"([A-Za-z0-9._-]+==[A-Za-z0-9.!+]+(?: ; [^#]*?)?)((?: --hash=sha256:[0-9a-f]{64})+)", line)
        assert told, line[:100]
        name, _, rest = told[1].partition("==")
        found[f"{name.lower().replace('_', '-').replace('.', '-')} {rest}"] = (rest, told[2].split())
    return found


def test_the_lock_is_names_versions_and_checksums_and_holds_no_address() -> None:
    assert len(_lock()) > 100
    assert "://" not in (ROOT / "constraints.txt").read_text()


def test_the_lock_knows_every_package_that_is_declared() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    declared = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    locked = {name.split()[0] for name in _lock()}
    assert sorted({re.split(r"[\[><=]", one)[0].lower() for one in declared} - locked) == []


def test_what_make_installs_is_checked_against_the_lock() -> None:
    steps = [line for line in (ROOT / "Makefile").read_text().splitlines() if "pip install" in line]
    *packages, project = steps
    assert [step for step in packages if "--require-hashes -r" not in step] == []
    assert "--no-deps --no-build-isolation" in project
    assert len(packages) == 3  # uv, and all by it, or by pip where it cannot
