from __future__ import annotations

import os
import shutil
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipelines.cli.main import main
from pipelines.settings import default_settings
from pipelines.workspace import Workspace, create_workspace
from tests.conftest import built_once
from tests.flow import postgres as throw_away

if TYPE_CHECKING:
    from collections.abc import Iterator

BY_HAND = Path(__file__).parents[1] / "data" / "by_hand"
NIGHT = datetime(2026, 1, 12, 21, tzinfo=UTC)


def drop(workspace: Workspace) -> None:
    """Put the files that a person wrote in a spreadsheet into the inbox."""
    for file in sorted(BY_HAND.glob("*.csv")):
        shutil.copy(file, workspace.inbox)


def typed(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    """A command as it is typed: exit code, standard output, standard error."""
    code = main([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def alone(module: str, *arguments: object) -> list[str]:
    """The command that runs a module of these tests as a process of its own, which starts as the program does."""
    seldom = "from pipelines.collector import collect_seldom; collect_seldom()"
    start = f"{seldom}; import runpy; runpy.run_module('{module}', None, '__main__')"
    return [sys.executable, "-c", start, *map(str, arguments)]


def refused(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str]:
    """Exit code and the one line of a mistake; nothing on standard output, no traceback."""
    code, out, err = typed(capsys, *words)
    last = err[err.rindex("Error: ") :].strip()
    assert "\n" not in last
    assert "Traceback" not in err
    assert out.strip() == ""
    return code, last


def waiting(folder: Path, migrated: Path) -> Workspace:
    """A workspace with files that wait, and a warehouse without rows."""
    made = create_workspace(folder / "lakeside", default_settings("Lakeside", "Europe/Berlin"))
    shutil.copyfile(migrated, made.warehouse)
    made.warehouse.chmod(0o600)
    drop(made)
    return made


@pytest.fixture
def workspace(tmp_path: Path, migrated: Path) -> Workspace:
    """A workspace of one's own in which files wait; :func:`rendered` begins with no warehouse."""
    return waiting(tmp_path, migrated)


@pytest.fixture(scope="session")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a workspace that was taken through a night; copy it before changing it."""

    def build(root: Path) -> None:
        from pipelines.runs import Night, run_night  # noqa: PLC0415 - heavy; only for the tests that need it

        made = create_workspace(root / "lakeside", default_settings("Lakeside", "Europe/Berlin"))
        drop(made)
        run_night(Night(made, NIGHT))

    return built_once(tmp_path_factory, "rendered", build) / "lakeside"


@pytest.fixture
def finished(rendered: Path, tmp_path: Path) -> Workspace:
    """A workspace of one's own that was taken through a night."""
    shutil.copytree(rendered, tmp_path / "finished")
    return Workspace(tmp_path / "finished")


@pytest.fixture(scope="session")
def postgres() -> Iterator[throw_away.Cluster]:
    """A PostgreSQL of its own, as an empty database."""
    if not throw_away.is_there():
        if os.environ.get("CI"):
            pytest.fail(throw_away.INSTALL)
        pytest.skip(throw_away.INSTALL)  # no PostgreSQL on this machine; with CI=true it is a failure (above)
    with throw_away.cluster() as one:
        yield one
