"""A value that was tuned to a figure is marked ``Calibrated:``, and is not counted as checked by that figure."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from pipelines.measures.references import BIBLIOGRAPHY
from tests.layout.reach import PACKAGES
from tests.published_counts import LEAST, NOT_PUBLISHED, PUBLISHED, ROOT, calibrated, cases, counts

KEY = re.compile(r"\[([A-Z][A-Za-z0-9]+)\]")
TUNED = re.compile(r"\b(tuned|calibrated|fitted so)\b")
CALIBRATED = re.compile(r"Calibrated:(.*?)(?:\n\s*\n|\Z)", re.DOTALL)
CHECKED = re.compile(r"(?:Checked|Source):(.*?)(?:\n\s*\n|Calibrated:|\Z)", re.DOTALL)
CODE = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py") if "references" not in path.parts)


def documentation(path: Path) -> list[str]:
    """Docstrings of a module, its functions and classes, and the texts below its constants."""
    return [
        node.value.value
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
    ]


def contradictions(text: str) -> set[str]:
    """Sources and tests that a text names both as what a value was calibrated to and as what it is checked by."""

    def named(pattern: re.Pattern[str]) -> set[str]:
        parts = " ".join(pattern.findall(text))
        return {*KEY.findall(parts), *re.findall(r"tests/[\w/]+\.py::\w+", parts)}

    return named(CALIBRATED) & named(CHECKED)


def marked() -> list[str]:
    return [text for path in CODE for text in documentation(path) if "Calibrated:" in text]


def test_what_was_tuned_is_marked() -> None:
    unmarked = [
        (str(path.relative_to(ROOT)), text[:60])
        for path in CODE
        for text in documentation(path)
        if TUNED.search(text) and "Calibrated:" not in text
    ]
    assert unmarked == []
    assert len(marked()) >= 6


def test_no_value_is_checked_by_what_it_was_calibrated_to() -> None:
    assert [(text[:60], found) for text in marked() if (found := contradictions(text))] == []


def test_a_contradiction_would_be_seen() -> None:
    assert contradictions("A.\n\nSource: [Broadie2008]\nChecked: tests/a.py\n\nCalibrated: [Broadie2008], spread\n") == {
        "Broadie2008"
    }


def test_the_page_of_sources_says_what_was_calibrated_to_them() -> None:
    keys = {key for text in marked() for part in CALIBRATED.findall(text) for key in KEY.findall(part)}
    assert keys
    assert [key for key in sorted(keys) if "alibrated to it" not in BIBLIOGRAPHY[key].used_for] == []


@pytest.mark.parametrize("case", sorted({*calibrated(), *NOT_PUBLISHED}))
def test_a_test_that_is_not_counted_is_there(case: tuple[str, str]) -> None:
    module, test = case
    assert f"def {test}(" in (PUBLISHED / module).read_text(encoding="utf-8")


def test_enough_published_cases_reach_what_a_night_computes() -> None:
    own, every = counts(cases())
    assert LEAST <= own.total() < every.total()
    assert own["test_trial_power.py"] == 0
    assert own["test_demo_physics.py"] < every["test_demo_physics.py"]
