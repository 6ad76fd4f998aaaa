from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
HELP = """
import sys
from pipelines.cli.main import main
main(["--help"])
print(*{name.split(".")[0] for name in sys.modules}, file=sys.stderr)
"""


def test_the_import_contracts_hold_and_tolerate_nothing() -> None:
    command = [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    assert not [contract["name"] for contract in contracts if contract.get("ignore_imports")]


def test_help_loads_nothing_heavy() -> None:
    done = subprocess.run([sys.executable, "-c", HELP], capture_output=True, text=True, check=True)
    assert not set(done.stderr.split()) & {"prefect", "polars", "duckdb", "pandera", "altair", "numpy", "scipy", "rich", "jinja2"}


def test_importing_the_plain_run_loads_no_prefect() -> None:
    program = "import sys, pipelines.runs; print('prefect' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_night_loads_of_scipy_what_it_computes_with() -> None:
    """The others are 30 MB in each process of a night."""
    program = "import sys, pipelines.runs; print(*{'.'.join(name.split('.')[:2]) for name in sys.modules})"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert not set(done.stdout.split()) & {
        f"scipy.{name}" for name in ("optimize", "interpolate", "sparse", "linalg", "spatial", "stats")
    }
