"""An encrypted backup that was cut short in copying is told as such, and what stands stays."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.settings import default_settings
from pipelines.stages.backup import back_up
from pipelines.stages.restore import restore
from pipelines.stages.seal import Opener, Readers, make_key
from pipelines.workspace import create_workspace
from schemas.errors import WorkspaceError
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

NOON = datetime(2026, 3, 14, 12, tzinfo=UTC)
PHRASE = "four words of a test"


@pytest.mark.parametrize("by_passphrase", [False, True])
def test_a_backup_that_is_cut_short_is_told_as_such(by_passphrase: bool, tmp_path: Path) -> None:
    made = create_workspace(tmp_path / "hill", default_settings("Hill", "Europe/Berlin"))
    with open_warehouse(made.warehouse):
        pass
    make_key(made, tmp_path / "key.txt")
    copy = back_up(made, NOON, readers=Readers(passphrase=PHRASE)).path if by_passphrase else back_up(made, NOON).path
    cut = tmp_path / "cut.tar.gz.age"
    cut.write_bytes(copy.read_bytes()[:-900])
    opener = Opener(passphrase=PHRASE) if by_passphrase else Opener(tmp_path / "key.txt")
    before = made.warehouse.read_bytes()
    with pytest.raises(WorkspaceError, match=r"cut short or damaged|cannot be decrypted") as fault:
        restore(made, cut, NOON + timedelta(hours=1), opener=opener)
    assert "another backup" in str(fault.value)
    assert made.warehouse.read_bytes() == before
