"""Where the console script begins: it sees that the packages found are ours before anything of them is imported."""

from __future__ import annotations

import sys
from importlib.util import find_spec
from pathlib import Path

PACKAGES = ("schemas", "warehouse", "reports")


def shadowed() -> list[str]:
    """Packages of ours in whose place another of the same name is found."""
    home = Path(__file__).resolve().parents[2]
    found = {name: find_spec(name) for name in PACKAGES}
    places = {name: list(spec.submodule_search_locations or []) if spec else [] for name, spec in found.items()}
    return [name for name, place in places.items() if not place or Path(place[0]).resolve().parent != home]


def run() -> None:
    """The console script: one line instead of a traceback where another package stands before one of ours."""
    foreign = shadowed()
    if foreign:
        line = (
            f"Error: another package called {', '.join(foreign)} is found before speedworth's own. "
            "Install speedworth into an environment of its own: `uv tool install` or `pipx install`."
        )
        print(line, file=sys.stderr)
        raise SystemExit(1)
    from pipelines.cli.main import run as run_command

    run_command()
