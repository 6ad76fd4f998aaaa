"""The row of units below a header is held against the mapping: a device that was set to other units is found out by it."""

from __future__ import annotations

import io

import pytest
import xlsxwriter

from pipelines.stages.intake.mapped import mapped_cells
from pipelines.stages.intake.mapping import parsed_mapping
from pipelines.stages.intake.table import Cells, Unread
from reports.findings.problems import problem_text
from reports.words import words

MAPPING = (
    'kind = "shots"\nunits_row = true\n[constants]\nplayer_id = "P1"\nclub = "driver"\nsession_id = "S"\n'
    '[columns.shot_no]\nnumber_rows = true\n[columns.struck_at]\nfrom = "t"\n'
    '[columns.club_speed_mps]\nfrom = "club"\nunit = "mph"\n[columns.carry_m]\nposition = 3\nunit = "yd"\n'
    '[columns.launch_deg]\nfrom = "launch"\n'
)
HEADER, SHOT = "t,club,carry,launch\n", "2026-03-14T10:00:00,60.0,150,12\n"


def _read(units: str, mapping: str = MAPPING) -> Cells | Unread:
    return mapped_cells(parsed_mapping("bay", mapping), "a.csv", ".csv", (HEADER + units + SHOT * 2).encode())


@pytest.mark.parametrize(
    "units", ["[s],[mph],[yd],[deg]\n", ",Mph,yards,°\n", ",,,\n", "time,as always,to landing,up\n", ",,m/s,\n"]
)
def test_a_row_of_the_mappings_units_or_of_none_is_left_out(units: str) -> None:
    read = _read(units)
    assert isinstance(read, Cells), read
    assert read.n_rows == 2


@pytest.mark.parametrize(
    ("units", "told"),
    [
        (",m/s,yd,\n", "the file says club m/s, the mapping club mph"),
        (",km/h,m,\n", "the file says club km/h, carry m, the mapping club mph, carry yd"),
        (",,,rad\n", "the file says launch rad, the mapping launch deg"),
    ],
)
def test_a_row_of_other_units_holds_the_file(units: str, told: str) -> None:
    read = _read(units)
    assert isinstance(read, Unread)
    assert (read.rule, read.value, read.n_rows) == ("units_row_differs", told, 2)
    german = problem_text("found", read.rule, read.value, words("de"))
    assert (german.language, german.text.split(",")[0]) == ("de", told.replace("the file says", "die Datei sagt").split(",")[0])


def test_a_shot_in_the_place_of_the_units_is_not_thrown_away() -> None:
    read = _read(SHOT)
    assert isinstance(read, Unread)
    assert (read.rule, read.value, read.n_rows) == ("no_row_of_units", "60.0", 3)


def test_a_header_alone_has_no_rows() -> None:
    read = mapped_cells(parsed_mapping("bay", MAPPING), "a.csv", ".csv", HEADER.encode())
    assert isinstance(read, Unread)
    assert read.rule == "no_rows"


def test_a_sheets_row_of_units_is_read_too() -> None:
    data = io.BytesIO()
    with xlsxwriter.Workbook(data) as book:
        sheet = book.add_worksheet()
        for at, line in enumerate((HEADER, ",m/s,yd,\n", SHOT)):
            sheet.write_row(at, 0, line.strip("\n").split(","))
    read = mapped_cells(parsed_mapping("bay", MAPPING), "a.xlsx", ".xlsx", data.getvalue())
    assert isinstance(read, Unread)
    assert read.value == "the file says club m/s, the mapping club mph"


def test_columns_of_a_wide_table_are_held_against_the_rule_of_their_word() -> None:
    wide = (
        'kind = "shots"\nunits_row = true\n[constants]\nplayer_id = "P1"\nclub = "driver"\nsession_id = "S"\n'
        '[long]\nname = "which"\nvalue = "speed"\n[long.rows]\n"1" = "club"\n"2" = "launch"\n'
        '[columns.shot_no]\nfrom = "which"\n[columns.struck_at]\nfrom = "t"\n'
        '[columns.club_speed_mps]\nfrom = "speed"\nunit = "mph"\n'
    )
    read = _read(",mph,,m/s\n", wide)
    assert isinstance(read, Unread)
    assert read.value == "the file says launch m/s, the mapping launch mph"


ABOVE = MAPPING.replace("units_row = true", "skip_lines = 2")


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
@pytest.mark.parametrize(
    ("above", "told"),
    [
        ("Bay 3,,\n,m/s,yd,\n", "the file says club m/s, the mapping club mph"),
        (",m/s,m,\nprinted in m,,\n", "the file says club m/s, carry m, the mapping club mph, carry yd"),
        ("Bay 3,,\n,mph,yd,\n", ""),
        ("m,,\nBay 3 in m/s,,\n", ""),
        ("Best,70.0,m,m/s\nMean,65.0,m,m/s\n", ""),
    ],
)
def test_a_row_of_units_above_the_header_is_read_too(above: str, told: str, ending: str) -> None:
    text = above + HEADER + SHOT * 2
    data = io.BytesIO(text.encode())
    if ending == ".xlsx":
        data = io.BytesIO()
        with xlsxwriter.Workbook(data) as book:
            sheet = book.add_worksheet()
            for at, line in enumerate(text.splitlines()):
                sheet.write_row(at, 0, line.split(","))
    read = mapped_cells(parsed_mapping("bay", ABOVE), f"a{ending}", ending, data.getvalue())
    if told:
        assert isinstance(read, Unread)
        assert (read.rule, read.value, read.n_rows) == ("units_row_differs", told, 2)
    else:
        assert isinstance(read, Cells), read
        assert read.n_rows == 2
