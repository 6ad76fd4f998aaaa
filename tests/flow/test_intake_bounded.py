"""Files that would take more memory or time than a night has: each is held with its reason, and the others load."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import polars as pl
import pytest
import xlsxwriter

from pipelines.stages.intake import apart as other_process
from pipelines.stages.intake.apart import apart
from pipelines.stages.intake.batch import native_content
from pipelines.stages.intake.rules import INTAKE_RULES
from pipelines.stages.intake.table import Cells, Unread

if TYPE_CHECKING:
    from tests.conftest import DropFolder

HEADER = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"
ROW = "S1,P1,1,2026-03-14T10:00:00,driver,45\n"


def parquet(frame: pl.DataFrame) -> bytes:
    out = io.BytesIO()
    frame.write_parquet(out)
    return out.getvalue()


def rows_of(n: int, columns: int) -> bytes:
    return parquet(pl.DataFrame({f"c{at}": pl.repeat(1.5, n, eager=True) for at in range(columns)}))


@apart()
def endless(data: bytes) -> bytes:
    while data:
        pass
    return data


@apart()
def greedy(data: bytes) -> int:
    return len(data * 2_000_000_000)


@apart()
def broken(data: bytes) -> None:
    raise ZeroDivisionError(data.decode())


def test_a_night_goes_on_past_files_that_are_too_much(folder: DropFolder) -> None:
    folder.people()
    many, wide = ",".join(f"c{n}" for n in range(100_000)), ",".join("1" * 100_000)
    keys = "".join("{" + ",".join(f'"k{n}_{m}": 1' for n in range(600)) + "}\n" for m in range(100))
    too_much = {
        "shots_rows.parquet": rows_of(1_000_000, 27),
        "shots_columns.csv": f"{many}\n{wide}\n",
        "shots_keys.jsonl": keys,
        "shots_lines.csv": HEADER + "a\n" * 2_500_000,
    }
    for name, content in too_much.items():
        folder.drop(name, content)
    folder.drop("shots_good.csv", HEADER + ROW)
    outcome = folder.files()
    assert {name: outcome[name].reason for name in too_much} == dict.fromkeys(too_much, "too_large")
    assert outcome["shots_good.csv"].n_loaded == 1
    assert folder.faults() == {}


def test_one_open_quote_costs_its_line_and_seconds(folder: DropFolder) -> None:
    folder.people()
    rows = "".join(f"S1,P1,{n},2026-03-14T10:00:00,driver,45\n" for n in range(1, 4900))
    folder.drop("shots_a.csv", HEADER + '"' + ROW + rows)
    assert folder.files()["shots_a.csv"].n_loaded == 4899


def test_a_reader_that_does_not_end_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(other_process, "_FREE_S", 5.0)
    assert endless(b"x") == Unread("took_too_long", "not read within 5 s")
    child = other_process._CHILD._running
    assert child is not None
    assert child.returncode is not None, "it is gone, not only told to go: a dying process would fail at the next file"
    monkeypatch.setattr(other_process, "_FREE_S", 60.0)
    assert isinstance(native_content(".parquet", rows_of(3, 2)), Cells), "the next file is read by a new process"


def test_a_reader_that_takes_too_much_memory_or_fails_holds_its_file() -> None:
    assert greedy(b"x").rule == "took_too_long"  # type: ignore[attr-defined]
    assert broken(b"why") == Unread("not_readable", "ZeroDivisionError: why")  # type: ignore[func-returns-value]


def test_text_in_a_sheet_stays_text_and_numbers_keep_their_digits() -> None:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        page = book.add_worksheet()
        page.write_row(0, 0, ["a", "b"])
        for at, (text, number) in enumerate([("007", 7), ("1E3", 0.1234567890123456), ("2026.10", 1000)], 1):
            page.write_string(at, 0, text)
            page.write_number(at, 1, number)
    read = native_content(".xlsx", out.getvalue())
    assert isinstance(read, Cells)
    assert read.rows.rows() == [("007", "7"), ("1E3", "0.1234567890123456"), ("2026.10", "1000")]


def test_a_column_of_another_type_is_not_called_damaged() -> None:
    read = native_content(".parquet", parquet(pl.DataFrame({"a": [[1, 2]], "b": ["x"]})))
    assert isinstance(read, Unread)
    assert (read.rule, read.value) == ("column_type", "a holds List(Int64)")


def test_what_is_held_is_told_in_words_with_its_list_and_what_is_left_alone_by_name(folder: DropFolder) -> None:
    folder.people()
    folder.drop("swings.csv", HEADER + ROW)
    folder.drop("shots_a.csv", HEADER + ROW.replace("driver", "zebra"))
    folder.drop(".hidden.csv", "x")
    folder.drop("shots_half.csv.part", "x")
    outcome = folder.run()
    files = {file.name: file for file in outcome.files}
    assert files["swings.csv"].says == "swings.csv. " + INTAKE_RULES["unknown_kind"].hint
    assert files["shots_a.csv"].says == "1 of 1 rows. See to the problems of the rows, then drop the file again."
    assert all((folder.root / files[name].listed).is_file() for name in ("swings.csv", "shots_a.csv"))
    assert outcome.left_alone == (".hidden.csv", "shots_half.csv.part")
