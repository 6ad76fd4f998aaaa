"""The commands that hand tables and pages on: what they write, and what they refuse."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.marts import marts
from tests.flow.conftest import refused, typed

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from pipelines.workspace import Workspace


def test_marts_are_exported_for_the_coach_without_the_body(
    finished: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = typed(capsys, "export", "marts", tmp_path / "coach", "-w", finished.root)
    assert (code, out) == (0, f"{tmp_path / 'coach'}\n")
    names = {path.stem for path in (tmp_path / "coach").glob("*.parquet")}
    assert names == {name for name, mart in marts().items() if "coach" in mart.readers}
    explained = pl.read_csv(tmp_path / "coach" / "dictionary.csv")
    assert set(explained["table"]) == names
    assert pl.read_parquet(tmp_path / "coach" / "mart_player.parquet").height == 3
    assert typed(capsys, "export", "marts", tmp_path / "physio", "--for", "physio", "-w", finished.root)[0] == 0
    assert len(list((tmp_path / "physio").glob("*.csv"))) > len(names)
    (tmp_path / "file").touch()
    assert refused(capsys, "export", "marts", tmp_path / "file", "-w", finished.root)[0] == 3


def test_one_page_is_written_as_one_file_that_needs_nothing_beside_it(
    finished: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "squad.html"
    code, out, _ = typed(capsys, "export", "page", "squad.html", "--single", file, "-w", finished.root)
    text = file.read_text(encoding="utf-8")
    assert (code, out) == (0, f"{file}\n")
    assert "<script" not in text
    assert "src=" not in text
    code, message = refused(capsys, "export", "page", "nowhere.html", "--single", file, "-w", finished.root)[:2]
    assert (code, "squad.html" in message) == (10, True)
    (tmp_path / "folder").mkdir()
    assert refused(capsys, "export", "page", "squad.html", "--single", tmp_path / "folder", "-w", finished.root)[0] == 3
    code, line = refused(capsys, "export", "page", "players/heron.html", "--single", file, "-w", finished.root)
    assert (code, "add --player heron" in line) == (10, True)


def test_all_pages_of_a_reader_are_written_to_be_sent(
    finished: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "send"
    code, out, err = typed(capsys, "export", "page", "--all", folder, "--for", "player", "-w", finished.root)
    assert (code, out) == (0, f"{folder}\n")
    pages = sorted(str(path.relative_to(folder)) for path in folder.rglob("*.html"))
    assert {page.partition("/")[0] for page in pages} == {"heron", "stork", "wren"}
    assert f"{len(pages)} pages for the player" in err
    text = (folder / "heron" / "index.html").read_text(encoding="utf-8")
    assert "<script" not in text
    assert "Stork" not in text
    assert refused(capsys, "export", "page", "--all", folder, "-w", finished.root)[0] == 3  # not over what is there
    assert refused(capsys, "export", "page", "squad.html", "--all", tmp_path / "x", "-w", finished.root)[0] == 2


def test_nothing_is_exported_into_a_folder_that_the_workspace_reads_or_publishes(
    finished: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted(finished.root.rglob("*"))
    for command in (
        ("export", "marts", finished.inbox),
        ("export", "page", "squad.html", "--single", finished.site / "coach" / "one.html"),
        ("export", "page", "--all", finished.inbox / "pages"),
        ("player", "export", "heron", "--to", finished.inbox / "heron"),
    ):
        code, line = refused(capsys, *command, "-w", finished.root)[:2]
        assert (code, "where only its own belongs" in line) == (3, True)
    assert sorted(finished.root.rglob("*")) == before
