"""How many small changes of the code that decides are told from it by a quick test: ``make mutants``.

mutmut makes every change; a seeded sample of each package is tried, one change at a time, against the quick tests that run
the changed function (``tests/mutant_runner.py``). Only a failing test counts as caught: a change that no test runs, or that takes
too long, counts as missed. Changes that mean the same stand with the reason in ``equivalent_mutants.toml``, and are taken
out of the count.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

from scipy.stats import binomtest

ROOT = Path(__file__).parents[1]
EQUIVALENT = Path(__file__).with_name("equivalent_mutants.toml")
_PARTS = ("pipelines", "reports", "schemas", "tests", "warehouse", "pyproject.toml")
_ENOUGH = 0.85
_MAKE = """
from pathlib import Path
from mutmut import __main__ as made
from mutmut.mutation.trampoline import set_mutant_under_test
set_mutant_under_test("mutant_generation")
Path("mutants").mkdir()
for step in (made.copy_src_dir, made.copy_also_copy_files, made.setup_source_paths, made.store_lines_covered_by_tests):
    step()
made.create_mutants(1)
"""
"""The first part of mutmut's own run: the changed code, without a trial."""


@dataclass(frozen=True)
class Equivalent:
    """A change that means the same: in a function, one line in the place of another."""

    function: str
    was: str
    now: str
    because: str


@dataclass(frozen=True)
class Change:
    """One change as mutmut printed it."""

    name: str
    was: str
    now: str

    @property
    def function(self) -> str:
        """``package.module.function``, or with the class before the function."""
        module, _, mangled = self.name.rpartition("__mutmut_")[0].rpartition(".")
        return f"{module}.{mangled.removeprefix('x_').removeprefix('xǁ').replace('ǁ', '.')}"


def equivalents() -> tuple[Equivalent, ...]:
    """The list with its reasons."""
    return tuple(Equivalent(**entry) for entry in tomllib.loads(EQUIVALENT.read_text(encoding="utf-8")).get("equivalent", ()))


def _settings() -> dict[str, list[str]]:
    found: dict[str, list[str]] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mutmut"]
    return found


def packages() -> tuple[str, ...]:
    """Folders whose code is changed, as pyproject.toml names them."""
    return tuple(pattern.removesuffix("/*.py") for pattern in _settings()["only_mutate"])


def change_of(name: str, difference: str) -> Change:
    """The lines that a unified difference takes out and puts in, without their margins."""
    lines = [line for line in difference.splitlines() if not line.startswith(("---", "+++"))]
    was, now = (" ".join(line[1:].strip() for line in lines if line.startswith(sign)) for sign in "-+")
    return Change(name, was, now)


def sample(names: list[str], n: int, seed: int) -> list[str]:
    """At most ``n`` of the names, the same for the same seed."""
    ordered = sorted(names)
    return ordered if len(ordered) <= n else sorted(random.Random(seed).sample(ordered, n))  # noqa: S311 - a sample, no secret


def score_line(package: str, made: int, tried: int, caught: int, same: int) -> str:
    """One line of the table: share caught of those that differ, with its 95 % interval (exact, of a sample)."""
    differing = tried - same
    interval = binomtest(caught, differing).proportion_ci(0.95)
    share = f"{caught / differing:6.1%} ({interval.low:.1%} to {interval.high:.1%})"
    return f"{package:28} made {made:5}, tried {tried:4}, equivalent {same:3}, caught {caught:4}: {share}"


def _ended(copy: Path, *command: str) -> str:
    """What a command of this Python says in a folder of the copy; its own words when it fails."""
    environment = os.environ | {"PYTHONPATH": "", "OPENBLAS_NUM_THREADS": "1", "POLARS_MAX_THREADS": "1", "FIRST_FAILURE": "true"}
    done = subprocess.run([sys.executable, *command], cwd=copy, check=False, capture_output=True, text=True, env=environment)
    if done.returncode != 0:
        raise SystemExit(
            f"{command[0]} {command[1][:40]} ended with {done.returncode}:\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}"
        )
    return done.stdout


def _made(copy: Path, package: str) -> list[str]:
    """Every change of a package."""
    found: list[str] = []
    for path in sorted((copy / "mutants" / package).glob("*.meta")):
        found += json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"]
    return found


def _outcomes(copy: Path, names: list[str]) -> dict[str, str]:
    """What became of each change."""
    asked, told, settings = copy / "names.txt", copy / "outcomes.jsonl", _settings()
    asked.write_text("\n".join(names), encoding="utf-8")
    words = (*settings["pytest_add_cli_args"], "-p", "no:cacheprovider", *settings["pytest_add_cli_args_test_selection"])
    _ended(copy / "mutants", "-m", "tests.mutant_runner", str(asked), str(told), "-q", *words)
    return dict(json.loads(line) for line in told.read_text(encoding="utf-8").splitlines())


def _copied(folder: Path) -> Path:
    for part in _PARTS:
        source = ROOT / part
        if source.is_dir():
            shutil.copytree(source, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / part)
    return folder


def _told(copy: Path, package: str, made: int, outcomes: dict[str, str]) -> bool:
    """Print the line and the survivors of one package, and say whether enough were caught."""
    listed = {(entry.function, entry.was, entry.now) for entry in equivalents()}
    missed = [name for name, outcome in outcomes.items() if outcome != "caught"]
    changes = {name: change_of(name, _ended(copy, "-m", "mutmut", "show", name)) for name in missed}
    same = [name for name, change in changes.items() if (change.function, change.was, change.now) in listed]
    caught = len(outcomes) - len(missed)
    sys.stdout.write(score_line(package, made, len(outcomes), caught, len(same)) + "\n")
    for name in missed:
        if name not in same:
            change = changes[name]
            sys.stdout.write(f"  {outcomes[name]}: {change.function}\n    - {change.was}\n    + {change.now}\n")
    sys.stdout.flush()
    return caught >= _ENOUGH * (len(outcomes) - len(same))


def main() -> int:
    """Print the score of each package, and fail when one is below 85 %."""
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("packages", nargs="*", default=packages(), help=" ".join(packages()))
    wanted.add_argument("-n", type=int, default=300, help="changes tried in each package")
    wanted.add_argument("--seed", type=int, default=1)
    asked = wanted.parse_args()
    if unknown := sorted(set(asked.packages) - set(packages())):
        wanted.error(f"no code is changed in {', '.join(unknown)}: choose from {', '.join(packages())}")
    with tempfile.TemporaryDirectory() as folder:
        copy = _copied(Path(folder))
        _ended(copy, "-c", _MAKE)
        made = {package: _made(copy, package) for package in asked.packages}
        tried = {package: sample(names, asked.n, asked.seed) for package, names in made.items()}
        outcomes = _outcomes(copy, [name for names in tried.values() for name in names])
        enough = [
            _told(copy, package, len(made[package]), {name: outcomes[name] for name in names}) for package, names in tried.items()
        ]
    return 0 if all(enough) else 1


if __name__ == "__main__":
    sys.exit(main())
