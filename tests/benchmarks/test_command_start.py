"""Starting the command against importing one data library: a ratio within one run."""

from __future__ import annotations

import subprocess
import sys
import time
from statistics import median

import pytest

ROUNDS = 9
HELP = "import sys; sys.argv = ['speedworth', '--help']; from pipelines.cli.main import run; run()"


def seconds(program: str) -> float:
    begun = time.perf_counter()
    subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)
    return time.perf_counter() - begun


@pytest.mark.benchmark
def test_help_starts_within_twice_the_import_of_polars() -> None:
    pairs = [(seconds(HELP), seconds("import polars")) for _ in range(ROUNDS)]
    shown, imported = (median(column) for column in zip(*pairs, strict=True))
    print(f"--help {shown:.3f} s, import polars {imported:.3f} s, ratio {shown / imported:.2f}")  # noqa: T201 - a benchmark tells its figures
    assert shown <= 2 * imported
