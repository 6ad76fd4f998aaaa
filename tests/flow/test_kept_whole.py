"""What is kept is examined; pages that somebody changed are written anew at the next run."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, run_night
from pipelines.stages import doctor
from pipelines.stages.backup import back_up
from pipelines.stages.doctor import examine
from reports.shelf import damaged_files
from tests.flow.conftest import NIGHT

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from pipelines.stages.finding import Finding
    from pipelines.workspace import Workspace

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _without_computing_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Most of what an examination takes is rows that are computed again, of which others are: `test_doctor`, `test_commands`."""
    monkeypatch.setattr(doctor, "standing_findings", lambda *_: [])


def found(workspace: Workspace) -> dict[str, Finding]:
    return {finding.about: finding for finding in examine(workspace)}


def pages(workspace: Workspace) -> dict[str, bytes]:
    return {str(path.relative_to(workspace.site)): path.read_bytes() for path in workspace.site.rglob("*") if path.is_file()}


def linked(path: Path) -> None:
    path.unlink()
    path.symlink_to("/etc/hostname")


@pytest.mark.parametrize(
    "harm",
    [
        lambda page: page.write_text(page.read_text().replace("</h1>", " beaten</h1>")),
        lambda page: page.unlink(),
        linked,
        lambda page: page.with_name("planted.html").write_text("<h1>Ours?</h1>"),
    ],
    ids=["changed", "deleted", "a link", "planted"],
)
def test_pages_are_as_they_were_after_the_next_run(finished: Workspace, harm: Callable[[Path], object]) -> None:
    before = pages(finished)
    for page in (finished.site / "coach" / "squad.html", next(finished.site.glob("players/*/index.html"))):
        harm(page)
    assert found(finished)["pages"].state == "look"
    assert run_night(Night(finished, NIGHT)).site.n_written <= 2
    assert pages(finished) == before
    assert found(finished)["pages"].state == "fine"
    assert damaged_files(finished.site) == frozenset()


def test_a_sound_workspace_with_a_backup(finished: Workspace) -> None:
    assert found(finished)["backup"].says == "none"
    back_up(finished, NOON)
    states = {about: finding.state for about, finding in found(finished).items()}
    assert {about: states[about] for about in ("blocks", "originals", "pages", "links")} == dict.fromkeys(
        ("blocks", "originals", "pages", "links"), "fine"
    )
    assert "brought back on trial" in found(finished)["backup"].says
    assert [path.suffix for path in finished.backups.iterdir()] == [".gz"]


def test_a_changed_original_fails_the_examination_and_the_next_backup(finished: Workspace) -> None:
    from schemas.errors import WarehouseCorruptError  # noqa: PLC0415 - only here

    victim = min(finished.archive.glob("??/*.csv"))
    victim.write_bytes(victim.read_bytes().replace(b"1", b"2", 1) + b" ")
    assert found(finished)["originals"].exit_code == WarehouseCorruptError.exit_code
    with pytest.raises(WarehouseCorruptError, match="damaged data"):
        back_up(finished, NOON)


def test_a_backup_that_rotted_is_broken(finished: Workspace) -> None:
    copy = back_up(finished, NOON).path
    data = bytearray(copy.read_bytes())
    data[len(data) // 2] ^= 1
    copy.write_bytes(data)
    assert (found(finished)["backup"].state, found(finished)["backup"].exit_code) == ("broken", 3)


def test_a_broken_block_is_found(finished: Workspace) -> None:
    data = bytearray(finished.warehouse.read_bytes())
    for at in range(3 * 4096 + 262_144 + 9, len(data), 262_144):
        data[at : at + 64] = b"\xff" * len(data[at : at + 64])
    finished.warehouse.write_bytes(data)
    assert "broken" in {finding.state for finding in examine(finished) if finding.about in {"blocks", "warehouse"}}


def test_a_link_among_what_is_kept_is_told(finished: Workspace) -> None:
    (finished.quarantine / "planted").symlink_to("/etc/hostname")
    assert found(finished)["links"].state == "look"
