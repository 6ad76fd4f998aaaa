"""Every source that a docstring names is in the bibliography, and every entry of the bibliography is used."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from pipelines.measures.references import BIBLIOGRAPHY
from reports.pages.methods import CALIBRATED, MEASURES, WITH_FEDERATION

ROOT = Path(__file__).parents[2]
CODE = [
    path
    for package in ("schemas", "warehouse", "pipelines", "reports")
    for path in (ROOT / package).rglob("*.py")
    if "references" not in path.parts
]
TESTS = sorted((ROOT / "tests" / "published").rglob("*.py"))
"""What only a benchmark or an idea stands on backs nothing that a page says."""
KEY = re.compile(r"\[([A-Z][A-Za-z0-9]+)\]")
SOURCE = re.compile(r"^\s*Source:(.*?)(?:\n\s*\n|^\s*Checked:|\Z)", re.MULTILINE | re.DOTALL)


def docstrings(path: Path) -> list[str]:
    kinds = ast.Module | ast.FunctionDef | ast.ClassDef
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [ast.get_docstring(node) or "" for node in ast.walk(tree) if isinstance(node, kinds)]


def sources() -> dict[str, str]:
    """Key to a module whose docstrings name it as a source."""
    return {
        key: str(path.relative_to(ROOT))
        for path in CODE
        for text in docstrings(path)
        for source in SOURCE.findall(text)
        for key in KEY.findall(source)
    }


def bracketed() -> set[str]:
    return {key for path in (*CODE, *TESTS) for key in KEY.findall(path.read_text(encoding="utf-8"))}


def test_every_key_that_is_cited_resolves() -> None:
    assert {key: path for key, path in sources().items() if key not in BIBLIOGRAPHY} == {}


def test_every_entry_is_cited_by_the_code_or_a_check() -> None:
    assert sorted(set(BIBLIOGRAPHY) - bracketed()) == []


def test_every_entry_stands_under_a_measure_of_the_methods_page() -> None:
    named = {key for keys in (*MEASURES.values(), *WITH_FEDERATION.values()) for key in keys}
    assert (sorted(set(BIBLIOGRAPHY) - named), sorted(named - set(BIBLIOGRAPHY))) == ([], [])


def test_the_methods_page_says_what_was_fitted() -> None:
    """But for what only the invented players were fitted to."""
    fitted = {
        key for key, entry in BIBLIOGRAPHY.items() if "alibrated to it" in entry.used_for and "invented" not in entry.used_for
    }
    assert {key for keys in CALIBRATED.values() for key in keys} == fitted
    assert all(key in MEASURES[name] for name, keys in CALIBRATED.items() for key in keys)


def test_most_entries_are_cited_as_sources() -> None:
    assert len(set(sources()) & set(BIBLIOGRAPHY)) > len(BIBLIOGRAPHY) / 2


@pytest.mark.parametrize("key", sorted(BIBLIOGRAPHY))
def test_an_entry_says_what_it_is_used_for_and_its_key_is_well_formed(key: str) -> None:
    entry = BIBLIOGRAPHY[key]
    assert KEY.fullmatch(f"[{key}]")
    assert entry.used_for
    assert entry.known
    assert entry.title or entry.known == "common practice"


def test_every_test_that_a_measure_says_it_is_checked_by_is_there() -> None:
    named = {
        (match, str(path.relative_to(ROOT)))
        for path in CODE
        for match in re.findall(r"tests/[\w/]+\.py", path.read_text(encoding="utf-8"))
    }
    assert [pair for pair in sorted(named) if not (ROOT / pair[0]).is_file()] == []
