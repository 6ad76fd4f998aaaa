"""What is said to be on the disk: the content, and the name by which it is found again."""

from __future__ import annotations

import os
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipelines.desk.sheet_log import SheetLog
from pipelines.stages.intake.disk import write_durably

AT = datetime(2026, 1, 13, 9, tzinfo=UTC)


@pytest.fixture
def brought(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Files and folders that were brought onto the disk, in that order."""
    found: list[Path] = []

    def fsync(handle: int) -> None:
        found.append(Path(f"/proc/self/fd/{handle}").readlink())

    monkeypatch.setattr(os, "fsync", fsync)
    return found


def test_a_file_then_its_name(tmp_path: Path, brought: list[Path]) -> None:
    write_durably(tmp_path / "list.json", b"{}")
    assert [path.name for path in brought] == [".list.json.part", tmp_path.name]
    assert (tmp_path / "list.json").read_bytes() == b"{}"


def test_the_first_tap_brings_the_names_of_file_and_folders_too(tmp_path: Path, brought: list[Path]) -> None:
    log = SheetLog(tmp_path, "heron", "heron-1", 1)
    log.note("a" * 32, "struck", 1, "", AT)
    file = tmp_path / "sheets" / "heron" / "heron-1.1.jsonl"
    assert brought == [file, tmp_path / "sheets" / "heron", tmp_path / "sheets", tmp_path]
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    log.note("b" * 32, "struck", 2, "", AT)
    assert brought[4:] == [file]
