"""Hints of files that nobody could read as they came: each says what to do with this very file."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest
import xlsxwriter

from reports.findings.problems import problem_text
from reports.words import words
from tests.flow.conftest import refused, typed

if TYPE_CHECKING:
    from pipelines.workspace import Workspace
    from tests.conftest import DropFolder

HEADER = ["player_id", "alias"]


def workbook(*sheets: tuple[str, list[list[str]]]) -> bytes:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        for name, rows in sheets:
            sheet = book.add_worksheet(name)
            for at, row in enumerate(rows):
                sheet.write_row(at, 0, row)
    return out.getvalue()


ROWS = [HEADER, ["P1", "Heron"], ["P2", "Stork"]]
NEAR = "Its kind is written players: rename it so, then drop the file again."
OTHERS = "Only the first sheet, Lists, was read, and there is People, More too: put the table first, hidden sheets counted."


@pytest.mark.parametrize(
    ("name", "content", "reason", "hint"),
    [
        ("player_x.csv", b"player_id,alias\nP1,Heron\n", "unknown_kind", NEAR),
        ("players_x.xlsx", workbook(("Lists", [["a"]]), ("People", ROWS), ("More", [])), "no_rows", OTHERS),
        ("players_y.xlsx", workbook(("Lists", [["a"], ["b"]]), ("People", ROWS), ("More", [])), "column_missing", OTHERS),
        (
            "players_z.xlsx",
            workbook(("Lists", [["Our squad", ""], ["", ""], *ROWS])),
            "column_missing",
            "The header seems to be in line 3: delete the lines above it, or write a mapping with skip_lines.",
        ),
        (
            "players_w.csv",
            b"Player ID,Alias\nP1,Heron\n",
            "column_missing",
            "Write player_id in place of player id, and the other names so too, then drop the file again.",
        ),
    ],
)  # fmt: skip
def test_a_hint_names_what_is_to_be_done(folder: DropFolder, name: str, content: bytes, reason: str, hint: str) -> None:
    folder.drop(name, content)
    held = folder.files()[name]
    assert (held.status, held.reason) == ("held", reason)
    assert held.says.endswith(hint)
    assert problem_text("hint", reason, hint, words("de")).language == "de"


def test_a_kind_that_nothing_comes_near_and_a_workbook_of_one_sheet_keep_the_common_hint(folder: DropFolder) -> None:
    folder.drop("whiteboard.csv", b"a,b\n1,2\n")
    folder.drop("players_one.xlsx", workbook(("Lists", [["a"]])))
    told = folder.files()
    assert "begins with its kind" in told["whiteboard.csv"].says
    assert told["players_one.xlsx"].says == "Export the file again, or delete it."


def test_map_drafts_from_a_file_that_came_by_the_name_that_the_run_says(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace.inbox / "bay").mkdir()
    (workspace.inbox / "bay" / "export.csv").write_text(
        "Player,Time,Club,Club Speed (mph)\nheron,2026-01-09 10:00:00,Driver,99\n"
    )
    _, _, told = typed(capsys, "run", "-w", workspace.root)
    assert "bay/export.csv – held: no mapping." in told
    code, _, _ = typed(capsys, "map", "bay/export.csv", "--to", "bay", "-w", workspace.root)
    assert code == 0
    assert 'unit = "mph"' in (workspace.mappings / "bay.toml").read_text()
    code, said = refused(capsys, "map", "bay/other.csv", "-w", workspace.root)
    assert (code, "There is no file" in said) == (5, True)
