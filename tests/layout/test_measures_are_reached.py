"""Every public measure is reached from a command, a run, a stage, a page or the demo, and is mentioned by its check."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from tests.layout.reach import ROOT, modules, reached

CHECKED = re.compile(r"Checked:(.*?)(?:\n\s*\n|\Z)", re.DOTALL)


def test_no_public_measure_is_left_that_nothing_reaches() -> None:
    known = modules()
    found = reached(known)
    left = [
        f"{name}:{symbol}"
        for name, module in sorted(known.items())
        if name.startswith("pipelines.measures") and not name.startswith("pipelines.measures.references")
        for symbol in module.uses
        if symbol and (name, symbol) not in found and ("." not in symbol or (name, symbol.split(".")[0]) in found)
    ]
    assert left == [], "delete these, or use them"


def test_an_unused_measure_would_be_seen() -> None:
    known = modules()
    measure = known["pipelines.measures.air"]
    measure.uses["viscosity"] = set()
    assert ("pipelines.measures.air", "viscosity") not in reached(known)


def _definitions() -> list[tuple[str, str, str]]:
    """Module, name and docstring of every function and class among the measures."""
    return [
        (str(path.relative_to(ROOT)), node.name, ast.get_docstring(node) or "")
        for path in sorted((ROOT / "pipelines" / "measures").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    ]


def test_a_check_that_is_named_reaches_the_module_of_its_measure() -> None:
    """Benchmarks are left out: they go through whole nights, and name no measure."""
    wrong = []
    for module, name, text in _definitions():
        for checked in CHECKED.findall(text):
            package = module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
            for test in re.findall(r"tests/(?!benchmarks/)[\w/]+\.py", checked):
                said = (ROOT / test).read_text(encoding="utf-8") if (ROOT / test).is_file() else ""
                if name not in said and package not in said and package.rpartition(".")[0] not in said:
                    wrong.append((f"{module}:{name}", test))
    assert wrong == []


def test_the_folder_of_measures_is_where_it_is_looked_for() -> None:
    assert (Path(ROOT) / "pipelines" / "measures" / "air.py").is_file()
