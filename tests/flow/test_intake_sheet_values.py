"""Cells of a sheet without a value: formulas that nobody computed hold the file, errors are told cell by cell."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import pytest
import xlsxwriter

from pipelines.stages.intake.sheet_values import uncomputed

if TYPE_CHECKING:
    from tests.conftest import DropFolder

HEADER = ["session_id", "player_id", "shot_no", "struck_at", "club", "club_speed_mps", "ball_speed_mps"]


def _workbook(*formulas: tuple[int, int, str, Any], top: int = 0) -> bytes:
    """Ten shots below a header; over them cells by row, column, formula and stored value."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        page = book.add_worksheet("Shots & more")
        page.write_row(top, 0, HEADER)
        for n in range(1, 11):
            page.write_row(top + n, 0, ["S1", "P1", n, f"2026-03-14T10:{n:02d}:00", "driver", 45 + n / 10, 66 + n / 10])
        for row, column, formula, value in formulas:
            page.write_formula(top + row, column, formula, None, value)
    return out.getvalue()


def test_a_formula_that_nobody_computed_holds_its_file(folder: DropFolder) -> None:
    folder.people("P1")
    folder.drop("shots_made.xlsx", _workbook((3, 6, "=F4*1.45", ""), (4, 6, "=F5*1.45", "")))
    outcome = folder.files()["shots_made.xlsx"]
    assert (outcome.reason, outcome.n_loaded) == ("formula_without_value", 0)
    told = next(iter((folder.root / "quarantine").rglob("*problems*"))).read_text()
    assert "G4 =F4*1.45 and 1 more" in told
    assert "open it in a spreadsheet and save it" in told


@pytest.mark.parametrize("top", [0, 3])
def test_an_error_of_a_sheet_is_told_in_its_cell_and_its_row_goes_on(folder: DropFolder, top: int) -> None:
    folder.people("P1")
    errors = ((3, 6, "=F4/0", "#DIV/0!"), (10, 6, "=NA()", "#N/A"), (5, 2, "=X!A1", "#REF!"), (6, 6, "=F7*1.45", 66.5))
    folder.drop("shots_errors.xlsx", _workbook(*errors, top=top))
    outcome = folder.files()["shots_errors.xlsx"]
    assert (outcome.n_loaded, outcome.n_quarantined) == (9, 1), "a shot without its number cannot be taken"
    told = folder.rows('select "column", value, rule from problem order by line, "column"').rows()
    assert told == [
        ("ball_speed_mps", "#DIV/0!", "not_a_number"),
        ("shot_no", "#REF!", "not_a_number"),
        ("ball_speed_mps", "#N/A", "not_a_number"),
    ]
    assert folder.rows("select ball_speed_mps from shot where shot_no = 6").rows() == [(66.5,)]


def test_an_error_of_a_sheet_is_nobodys_name(folder: DropFolder) -> None:
    folder.drop(
        "players_export.csv", "player_id,alias,groups\nP1,Alder,#N/A\nP2,#1 Birch,U16\n#REF!,Cedar,U16\nP4,#NAME?,U16\nP5,Elm,\n"
    )
    assert folder.files()["players_export.csv"].n_loaded == 3
    assert folder.rows("select player_id, alias, groups from player order by 1").rows() == [
        ("P1", "Alder", None),
        ("P2", "#1 Birch", "U16"),
        ("P5", "Elm", None),
    ]
    told = folder.rows('select line, "column", rule, severity from problem order by line').rows()
    assert told == [
        (2, "groups", "sheet_error", "emptied"),
        (4, "player_id", "sheet_error", "error"),
        (5, "alias", "sheet_error", "error"),
    ]


def test_a_formula_with_an_empty_text_as_its_value_has_one() -> None:
    sheet = b'<c r="A1" t="str"><f>IF(B1="","",B1)</f><v></v></c><c r="A2"><f>1+1</f><v>2</v></c><c r="A3" s="1"/>'
    assert uncomputed(sheet) == []
    assert uncomputed(sheet + b'<c r="B1"><f t="shared" si="0"/><v/></c><x:c r="B2"><x:f>1&lt;2</x:f></x:c>') == ["B1", "B2 =1<2"]
