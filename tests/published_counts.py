"""How many published cases reach what a night computes, by source: ``python -m tests.published_counts``.

A case is one test of ``tests/published``. It counts when its module imports a measure (or the demo) that a command, run, stage
or page reaches, and when nothing that it calls is marked ``Calibrated:`` against the source that it is checked against.
"""

from __future__ import annotations

import ast
import contextlib
import io
import re
import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.layout.reach import PACKAGES, ROOT, Symbol, modules, reached

NOT_PUBLISHED: dict[tuple[str, str], str] = {
    ("test_trial_power.py", "test_shots_for_a_change_of_scatter"): "tables simulated for this project",
    ("test_trial_power.py", "test_our_own_analysis_has_the_printed_power"): "tables simulated for this project",
    ("test_flight.py", "test_carry_of_the_distance_test_by_an_earlier_solver"): "figures of an earlier solver of ours",
    ("test_flight.py", "test_curve_of_a_tilted_axis"): "figures of an earlier solver of ours",
    ("test_flight.py", "test_head_wind_hurts_more_than_tail_wind_helps"): "figures of an earlier solver of ours",
    ("test_flight.py", "test_missing_and_impossible_values_give_a_reason_and_null"): "no figure",
    ("test_demo_physics.py", "test_carry_by_club_speed_of_ordinary_men"): "own models of impact and flight",
    ("test_demo_physics.py", "test_more_club_speed_carries_further_by_two_to_four_yards_a_mile_an_hour"): "own flight model",
    ("test_demo_physics.py", "test_draws_curve_left_for_the_right_handed_and_right_for_the_left_handed"): "no figure",
}
"""Tests beside published ones whose figure is our own, with the reason: they are not counted."""

PUBLISHED = ROOT / "tests" / "published"
LEAST = 150


def measures_of(path: Path) -> set[Symbol]:
    """What a module of checks imports from the measures or the demo: module and name."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {
        (node.module, alias.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith(("pipelines.measures", "pipelines.demo"))
        for alias in node.names
    }


def reaching_modules() -> dict[str, set[str]]:
    """Modules of checks to the names of reached functions and classes that they import."""
    known = modules()
    found = reached(known)
    names = {symbol.split(".")[0] for _, symbol in found if symbol}
    return {path.name: {name for _, name in measures_of(path) if name in names} for path in sorted(PUBLISHED.glob("test_*.py"))}


def tests_that_use(path: Path, names: set[str]) -> set[str]:
    """Tests of a module that use one of these names, themselves or through a function, fixture or constant of the module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    uses: dict[str, set[str]] = {}
    for node in tree.body:
        used = {one.id for one in ast.walk(node) if isinstance(one, ast.Name)} | {
            one.arg for one in ast.walk(node) if isinstance(one, ast.arg)
        }
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            uses[node.name] = used
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            uses |= {target.id: used for target in targets if isinstance(target, ast.Name)}
    reaching = set(names)
    while more := {name for name, used in uses.items() if name not in reaching and used & reaching}:
        reaching |= more
    return {name for name in reaching if name.startswith("test_")}


def calibrated() -> set[tuple[str, str]]:
    """Tests against what a value was calibrated to, as the code marks them: module and test."""
    code = (path.read_text(encoding="utf-8") for package in PACKAGES for path in (ROOT / package).rglob("*.py"))
    marks = (mark for text in code for mark in re.findall(r"Calibrated:(.*?)(?:\n\s*\n|\"\"\")", text, re.DOTALL))
    return {pair for mark in marks for pair in re.findall(r"tests/published/(\w+\.py)::(\w+)", mark)}


class _Collected:
    def __init__(self) -> None:
        self.cases: list[tuple[str, str]] = []

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        self.cases = [(Path(item.path).name, getattr(item, "originalname", item.name)) for item in items]


def cases() -> list[tuple[str, str]]:
    """Module and test of each case, as pytest collects them."""
    collected = _Collected()
    with contextlib.redirect_stdout(io.StringIO()):
        pytest.main(["--collect-only", "-qq", "--no-header", "-p", "no:xdist", str(PUBLISHED)], plugins=[collected])
    return collected.cases


def counts(found: list[tuple[str, str]]) -> tuple[Counter[str], Counter[str]]:
    """By module: cases that reach the product's own path, and all."""
    reaching = reaching_modules()
    using = {name: tests_that_use(PUBLISHED / name, names) for name, names in reaching.items()}
    left_out = {*calibrated(), *NOT_PUBLISHED}
    own = Counter(name for name, test in found if test in using[name] and (name, test) not in left_out)
    return own, Counter(name for name, _ in found)


def main() -> int:
    """Print the table; fail below the least number."""
    own, every = counts(cases())
    for name in sorted(every):
        said = (ast.get_docstring(ast.parse((PUBLISHED / name).read_text(encoding="utf-8"))) or "").splitlines()[0]
        sys.stdout.write(f"{own[name]:4} of {every[name]:3}  {name.removeprefix('test_').removesuffix('.py'):24} {said}\n")
    sys.stdout.write(f"{own.total():4} of {every.total():3} cases reach the product's own path\n")
    return int(own.total() < LEAST)


if __name__ == "__main__":
    sys.exit(main())
