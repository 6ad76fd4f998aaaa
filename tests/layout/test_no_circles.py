"""No two modules import each other, also not for types alone or by way of others."""

from __future__ import annotations

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imports(path: Path, known: set[str]) -> set[str]:
    """Modules of ours that a module imports: the submodule where one is meant, else the package."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {name if name in known else node.module for name in inner}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return (found & known) - {module_name(path)}


def graph() -> dict[str, set[str]]:
    paths = [path for package in ("schemas", "warehouse", "pipelines", "reports") for path in (ROOT / package).rglob("*.py")]
    known = {module_name(path) for path in paths}
    return {module_name(path): imports(path, known) for path in paths}


def test_no_module_is_reached_by_its_own_imports() -> None:
    try:
        TopologicalSorter(graph()).prepare()
    except CycleError as fault:
        pytest.fail("import circle: " + " -> ".join(fault.args[1]))


def test_a_circle_would_be_seen() -> None:
    with pytest.raises(CycleError):
        TopologicalSorter({**graph(), "schemas.units": {"schemas.fields"}, "schemas.fields": {"schemas.units"}}).prepare()
