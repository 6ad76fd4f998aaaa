"""Every command in trouble: full disk, closed site, broken block, odd clocks, another process at work.

One line and a documented code, no traceback, nothing half-written left, and the next run is whole.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from pipelines.cli import academy, desk, files, licences, options, player, publish
from pipelines.cli.main import main
from pipelines.stages.backup import back_up
from pipelines.stages.doctor import examine
from pipelines.workspace import Workspace, writing
from schemas.errors import SpeedworthError
from tests.broad import some_of
from tests.flow.conftest import NIGHT
from tests.full_disk import no_file_beyond
from tests.layout.test_commands import LEAVES, kinds
from warehouse.connection import open_warehouse, scalar

WORDS: dict[str, str] = {
    "again": "--held",
    "backup": "--plain",
    "check": "{file}",
    "decide": "{flag} watch --role coach",
    "doctor": "",
    "expire": "",
    "explain": "{flag}",
    "export marts": "{out}/marts",
    "export page": "squad.html --single {out}/page.html",
    "federation new": "{out}/federation",
    "federation service": "serve --print",
    "flags": "--all",
    "key add": "anna --role data",
    "key link": "heron",
    "key list": "",
    "key remove": "anna",
    "licences": "--cyclonedx {out}/bill.json",
    "links renew": "heron",
    "log": "",
    "map": "{file}",
    "new": "{out}/new",
    "player export": "heron --to {out}/heron",
    "publish": "{out}/coach --audience coach",
    "rebuild": "",
    "restore": "{copy}",
    "run": "",
    "service": "--print",
    "since": "heron 2026-03-02 --change technique",
    "trial plan": "heron --question wider --arms normal,wider",
    "trial label": "T1 {file}",
    "trial show": "T1",
    "trial end": "T1 --rule sheet",
    "trial resume": "T1",
    "withdraw": "shots_stork.csv",
    "player erase": "heron --yes",
}
OF_A_NIGHT = ("check", "run", "expire", "backup", "player export", "publish", "decide")
"""Commands in which the local day counts."""
LASTING = {"schedule", "desk", "demo", *(f"federation {part}" for part in ("serve", "worker", "run", "nights", "report"))}
"""What serves until it is stopped, asks what does, or reads what many academies share, has tests of its own;
`demo` is `new` and `run`."""
HALF = (
    ".*.part",
    "*.tar.gz.part",
    "backups/.part-*",
    ".restore-*",
    ".rebuild",
    "academy.fresh*",
    "*.tmp",
    ".site-next",
    ".probe-*",
)


@pytest.fixture(scope="module")
def sound(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A rendered workspace with a backup."""
    root = tmp_path_factory.mktemp("sound") / "hill"
    shutil.copytree(rendered, root)
    back_up(Workspace(root), NIGHT)
    return root


@pytest.fixture
def troubled(sound: Path, tmp_path: Path) -> Workspace:
    shutil.copytree(sound, tmp_path / "hill")
    (tmp_path / "out").mkdir()
    return Workspace(tmp_path / "hill")


def filled(workspace: Workspace, words: str) -> list[str]:
    copies = sorted(workspace.backups.glob("speedworth-*"))
    values = {
        "out": workspace.root.with_name("out"),
        "file": Path(__file__).parents[1] / "data" / "by_hand" / "shots_stork.csv",
        "copy": copies[0] if copies else "none.tar.gz",
        "flag": "aaaaaaaa",
    }
    return words.format(**values).split()


def typed(workspace: Workspace, name: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """Exit code and what was printed on standard error; a fault that nobody made a line of fails the test."""
    beside = [] if name in {"new", "licences", "federation new"} else ["-w", str(workspace.root)]
    code = main([*name.split(), *filled(workspace, WORDS[name]), *beside])
    told = capsys.readouterr().err
    lines = [line for line in told.splitlines() if line.startswith("Error: ")]
    assert "Traceback" not in told, name
    assert code in CODES, name
    assert len(lines) == int(code != 0 and name != "doctor"), (name, told)
    return code, told


CODES = {0, *(kind.exit_code for kind in kinds(SpeedworthError))}


TABLES = ("shot", "session", "checkin", "player")


def rows(workspace: Workspace) -> dict[str, int]:
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        return {table: int(scalar(con, f'select count(*) from "{table}"')) for table in TABLES}


def assert_whole(workspace: Workspace, before: dict[str, int], capsys: pytest.CaptureFixture[str]) -> None:
    """The next run says yes, nothing half-written is left, and no row is lost."""
    assert main(["run", "-w", str(workspace.root)]) == 0, capsys.readouterr().err
    assert [path.name for pattern in HALF for path in workspace.root.rglob(pattern)] == []
    assert rows(workspace) == before
    assert [finding for finding in examine(workspace) if finding.state == "broken"] == []


@contextmanager
def full_disk(_workspace: Workspace, _patch: pytest.MonkeyPatch) -> Iterator[None]:
    """No file can grow beyond a few bytes."""
    with no_file_beyond(64):
        yield


@contextmanager
def closed_site(workspace: Workspace, patch: pytest.MonkeyPatch) -> Iterator[None]:
    """Nothing can be written into the folder of pages: whoever tries is told so by the system."""
    probe = tempfile.TemporaryFile

    def refused(*arguments: Any, **named: Any) -> Any:
        if Path(str(named.get("dir", ""))).name == "site":
            raise OSError(30, "Read-only file system")
        return probe(*arguments, **named)

    patch.setattr(tempfile, "TemporaryFile", refused)
    yield


@contextmanager
def another_at_work(workspace: Workspace, _patch: pytest.MonkeyPatch) -> Iterator[None]:
    with writing(workspace, "a run"):
        yield


def at(moment: datetime) -> Callable[[Workspace, pytest.MonkeyPatch], Any]:
    def clock(_workspace: Workspace, patch: pytest.MonkeyPatch) -> Any:
        for module in (academy, desk, files, licences, options, player, publish):
            patch.setattr(module, "now", lambda: moment)
        return nullcontext()

    return clock


TROUBLES: dict[str, Callable[[Workspace, pytest.MonkeyPatch], Any]] = {
    "full disk": full_disk,
    "site that cannot be written": closed_site,
    "another process": another_at_work,
}
CLOCKS = {
    "set back by years": datetime(2020, 1, 1, 12, tzinfo=UTC),
    "the hour that is missing": datetime(2026, 3, 29, 1, 30, tzinfo=UTC),
    "the hour that comes twice": datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
}


def test_every_command_is_walked() -> None:
    assert set(WORDS) | LASTING == set(LEAVES)


@pytest.mark.parametrize("trouble", some_of(TROUBLES))
def test_every_command_in_trouble_says_one_line_and_leaves_things_whole(
    troubled: Workspace, capsys: pytest.CaptureFixture[str], trouble: str
) -> None:
    before = rows(troubled)
    told = {}
    for name in WORDS:
        with pytest.MonkeyPatch.context() as patch, TROUBLES[trouble](troubled, patch):
            told[name] = typed(troubled, name, capsys)
    assert not [name for name in ("run", "restore", "rebuild", "backup", "withdraw") if told[name][0] == 0]
    if trouble == "full disk":
        assert [path.name for path in troubled.root.with_name("out").rglob("*") if path.is_file()] == []
    assert_whole(troubled, before, capsys)


@pytest.mark.parametrize("clock", some_of(reversed(CLOCKS)))
def test_every_command_at_an_odd_time(troubled: Workspace, capsys: pytest.CaptureFixture[str], clock: str) -> None:
    for name in WORDS if "back" in clock else OF_A_NIGHT:
        with pytest.MonkeyPatch.context() as patch, at(CLOCKS[clock])(troubled, patch):
            typed(troubled, name, capsys)
    assert main(["run", "-w", str(troubled.root)]) == 0, capsys.readouterr().err
    assert [finding for finding in examine(troubled) if finding.state == "broken"] == []


def test_every_command_beside_a_broken_block(troubled: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    before = rows(troubled)
    data = bytearray(troubled.warehouse.read_bytes())
    for spot in range(3 * 4096 + 262_144 + 9, len(data), 262_144):
        data[spot : spot + 64] = b"\xff" * len(data[spot : spot + 64])
    for name in (name for name in WORDS if name not in {"rebuild", "restore"}):
        troubled.warehouse.write_bytes(data)
        typed(troubled, name, capsys)
    troubled.warehouse.write_bytes(data)
    troubled.erasure_due.unlink(missing_ok=True)
    assert typed(troubled, "rebuild", capsys)[0] == 0
    assert_whole(troubled, before, capsys)
