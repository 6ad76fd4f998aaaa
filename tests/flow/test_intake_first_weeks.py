"""What people drop in their first weeks: helpers of systems, folders, workbooks of several sheets, clocks that were never set."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

import pytest
import xlsxwriter

from reports.findings.problems import problem_text
from reports.words import words
from tests.flow.conftest import typed
from warehouse.connection import open_warehouse
from warehouse.problems import close_named

if TYPE_CHECKING:
    from pipelines.workspace import Workspace
    from tests.conftest import DropFolder

SESSIONS = "session_id,player_id,started_at,kind,duration_min\n"
SHOTS = "session_id,player_id,shot_no,struck_at,club,club_speed_mps,ball_speed_mps\n"


def packed(files: dict[str, str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return out.getvalue()


def workbook(sheets: dict[str, list[list[str]]]) -> bytes:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for at, row in enumerate(rows):
                sheet.write_row(at, 0, row)
    return out.getvalue()


def test_what_a_system_lays_beside_files_is_left_alone(folder: DropFolder) -> None:
    folder.people("P1")
    inside = {"week/rounds_a.csv": "player_id,played_on,strokes\nP1,2026-03-14,88\n"}
    helpers = {"__MACOSX/week/._rounds_a.csv": "x", "week/.DS_Store": "x", "week/Thumbs.db": "x"}
    folder.drop("week.zip", packed(inside | helpers))
    folder.drop("Thumbs.db", "x")
    folder.drop("desktop.ini", "x")
    found = folder.run()
    assert {file.name for file in found.files} == {"players.csv", "sessions.csv", "week.zip/week/rounds_a.csv"}
    assert found.left_alone == ("Thumbs.db", "desktop.ini")


def test_an_archive_of_nothing_but_helpers_is_told_as_empty(folder: DropFolder) -> None:
    folder.drop("week.zip", packed({"__MACOSX/._x.csv": "x"}))
    assert folder.files()["week.zip"].reason == "empty_file"


def test_two_unreadable_files_of_one_content_have_one_list_that_is_there(folder: DropFolder) -> None:
    folder.drop("shots_a.pdf", "%PDF")
    folder.drop("shots_b.pdf", "%PDF")
    found = folder.files()
    assert (found["shots_a.pdf"].status, found["shots_b.pdf"].status) == ("held", "unchanged")
    assert (folder.root / found["shots_a.pdf"].listed).is_file()
    assert "Save or export it as .csv" in found["shots_a.pdf"].says


def test_a_file_of_our_own_form_in_a_folder_is_sent_to_the_inbox(folder: DropFolder) -> None:
    folder.drop("november/sessions_a.csv", SESSIONS)
    folder.drop("november/export.csv", "a,b\n1,2\n")
    found = folder.files()
    assert "lies in inbox/ itself" in found["november/sessions_a.csv"].says
    assert "lies in inbox/ itself" not in found["november/export.csv"].says


def test_a_column_without_name_and_value_is_none(folder: DropFolder) -> None:
    folder.people("P1")
    text = "session_id,player_id,started_at,,kind,\nA1,P1,2026-03-14T10:00:00,,range,\n"
    folder.drop("sessions_a.csv", text)
    folder.drop("sessions_b.csv", text.replace("A1", "B1").replace("0:00,,", "0:00,x,"))
    found = folder.files()
    assert found["sessions_a.csv"].warned == ()
    assert found["sessions_b.csv"].warned == (("unknown_column: column 4", 1),)


def test_a_cell_of_blanks_is_empty(folder: DropFolder) -> None:
    folder.people("P1", sessions="S9")
    folder.drop("sessions_a.csv", SESSIONS + "A1,P1,2026-03-14T10:00:00,range,  \nA2,P1,2026-03-15T10:00:00,range,x\n")
    assert folder.files()["sessions_a.csv"].n_emptied == 1


def test_one_of_our_columns_with_a_unit_behind_it_is_named_with_what_to_do(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace.inbox / "players_x.csv").write_text("player_id,alias,height_cm (in)\nX1,Xa,70\n")
    _, _, told = typed(capsys, "run", "-w", workspace.root)
    assert "loaded, and worth a look: unknown column: height_cm (in). List:" in told
    _, said, _ = typed(capsys, "explain", "players_x.csv", "-w", workspace.root)
    assert "write height_cm alone above it" in said


def test_sheets_that_were_not_read_are_told_and_empty_ones_are_not(folder: DropFolder) -> None:
    rows = [["player_id", "alias"], ["P1", "Heron"]]
    folder.drop("players_a.xlsx", workbook({"one": rows, "notes": [["x"]], "Sheet3": []}))
    folder.drop("players_b.xlsx", workbook({"one": [rows[0], ["P2", "Stork"]], "Sheet2": []}))
    found = folder.files()
    assert found["players_a.xlsx"].warned == (("other_sheet: notes", 1),)
    assert found["players_b.xlsx"].warned == ()


def test_a_clock_that_was_never_set_costs_its_row_alone(folder: DropFolder) -> None:
    folder.people("P1", sessions="S9")
    folder.drop("sessions_a.csv", SESSIONS + "A1,P1,1970-01-01T00:05:00,range,50\nA2,P1,2026-03-15T10:00:00,range,50\n")
    found = folder.files()["sessions_a.csv"]
    assert (found.n_loaded, found.n_quarantined) == (1, 1)
    assert folder.rows("select line, value, rule from problem").rows() == [(2, "1970-01-01T00:05:00", "long_ago")]
    assert folder.faults() == {}


def test_the_hour_that_clocks_show_twice_is_told_once_a_file(folder: DropFolder) -> None:
    """Berlin, 25 October 2026: 02:00 to 03:00 comes twice. With an offset nothing is left to ask."""
    folder.people("P1", sessions="S9")
    head, end = "A{0},P1,2026-10-25T", ",range,50\n"
    times = ("01:59:00", "02:00:00", "02:30:00+01:00", "02:59:59", "03:00:00")
    folder.drop("sessions_a.csv", SESSIONS + "".join(head.format(at) + time + end for at, time in enumerate(times)))
    assert dict(folder.files()["sessions_a.csv"].warned)["clocks_put_back"] == 1
    told = folder.rows("select line, value, hint from problem where rule = 'clocks_put_back'").row(0)
    assert told[:2] == (3, "2026-10-25T02:00:00")
    assert problem_text("hint", "clocks_put_back", told[2], words("de")).language == "de"
    folder.drop("sessions_b.csv", SESSIONS + head.format(9) + "02:30:00Z" + end)
    assert "clocks_put_back" not in dict(folder.files()["sessions_b.csv"].warned)


def test_a_mapping_whose_columns_an_update_has_renamed_is_named_with_them(folder: DropFolder) -> None:
    mapping = 'kind = "players"\n[columns.player_id]\nfrom = "Id"\n[columns.alias]\nfrom = "Name"\n[columns.sex]\nfrom = "Sex"\n'
    (folder.root / "mappings" / "list.toml").write_text(mapping)
    folder.drop("list/a.csv", "Id,Called,S\nP1,Heron,male\n")
    held = folder.files()["list/a.csv"]
    assert held.reason == "column_missing"
    assert "The mapping list reads Name, Sex, and the export has no column of that name (any more)" in held.says


def test_a_plan_for_a_group_of_nobody_is_told_until_somebody_is_in_it(folder: DropFolder) -> None:
    folder.people("P1", sessions="S9")
    folder.drop("plans_a.csv", "group_name,week_starting,phase,swings_full\nU16,2026-03-09,base,200\n")
    assert folder.files()["plans_a.csv"].warned == (("group_of_nobody", 1),)
    folder.drop("players_b.csv", "player_id,alias,groups\nP1,P1 x,U18; U16 (from 2026-04-01)\n")
    folder.run()
    assert folder.rows("select closed from problem where rule = 'group_of_nobody'")["closed"].to_list() == [True]
    folder.drop("plans_c.csv", "group_name,week_starting,phase,swings_full\nU16,2026-03-16,base,200\n")
    assert folder.files()["plans_c.csv"].warned == ()


def test_a_home_course_that_no_settings_know_is_told_until_they_do(folder: DropFolder) -> None:
    folder.drop("players_a.csv", "player_id,alias,course\nP1,Heron,Dunes\nP2,Stork,open\n")
    assert folder.files()["players_a.csv"].warned == (("course_unknown", 1),)
    with open_warehouse(folder.root / "academy.duckdb") as con:
        close_named(con, frozenset({"open"}))
        assert not con.execute("select closed from problem").fetchone()[0]  # type: ignore[index]
        close_named(con, frozenset({"open", "Dunes"}))
        assert con.execute("select closed from problem").fetchone()[0]  # type: ignore[index]


@pytest.mark.parametrize(
    ("name", "content", "hint"),
    [
        ("rounds_a.csv", workbook({"one": [["player_id"]]}), "Inside it is a workbook or an archive"),
        ("rounds_a.json", workbook({"one": [["player_id"]]}), "Inside it is a workbook or an archive"),
        ("rounds_a.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "It is an old workbook, or one with a password"),
        ("rounds_a.xlsx", b"player_id,played_on,strokes\nP1,2026-03-14,88\n", "Inside it is plain text"),
        ("rounds_a.csv", b'[{"player_id": "P1", "played_on": "2026-03-14", "strokes": 88}]', "Inside it is JSON"),
    ],
)
def test_a_file_whose_ending_is_another_formats_is_told_which(folder: DropFolder, name: str, content: bytes, hint: str) -> None:
    folder.drop(name, content)
    held = folder.files()[name]
    assert held.status == "held"
    assert hint in held.says
    said = folder.rows("select hint from problem where severity = 'held'")["hint"].item()
    assert problem_text("hint", held.reason, said, words("de")).language == "de"
