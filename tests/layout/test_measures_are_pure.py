"""Measures do no I/O: importing all of them loads no database, chart or command library, and none calls a clock or a file."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import pipelines.measures

ROOT = Path(pipelines.measures.__file__).parent
MODULES = sorted(ROOT.rglob("*.py"))
FORBIDDEN = (
    "duckdb",
    "pandera",
    "altair",
    "jinja2",
    "typer",
    "rich",
    "prefect",
    "vl_convert",
    "fastexcel",
    "warehouse",
    "reports",
)
IMPURE_CALLS = {"open", "print", "input", "now", "today", "utcnow", "time", "perf_counter", "seed", "RandomState"}

IMPORT_ALL = """
import importlib, pkgutil, sys
import pipelines.measures as root
for module in pkgutil.walk_packages(root.__path__, root.__name__ + "."):
    importlib.import_module(module.name)
print(" ".join(sorted({name.split(".")[0] for name in sys.modules})))
"""


def test_importing_every_measure_loads_no_library_that_reads_or_writes() -> None:
    loaded = subprocess.run([sys.executable, "-c", IMPORT_ALL], capture_output=True, text=True, check=True).stdout.split()
    assert not set(FORBIDDEN) & set(loaded)


def called_name(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_measure_calls_a_clock_a_file_or_its_own_randomness(module: Path) -> None:
    calls = [node for node in ast.walk(ast.parse(module.read_text())) if isinstance(node, ast.Call)]
    assert not sorted({called_name(call) for call in calls} & IMPURE_CALLS)
    # A generator is passed in, or made from a number that is.
    assert not [call.lineno for call in calls if called_name(call) == "default_rng" and not call.args]
