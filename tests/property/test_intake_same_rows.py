"""The same rows give the same warehouse: whatever the format, however they are split over files, in whatever order they come."""

from __future__ import annotations

import io
import json
import shutil
import tempfile
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipelines.stages.intake.batch import native_content
from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.csv_text import careful, plain
from pipelines.stages.intake.table import Cells, Plain
from schemas.academy import Academy
from schemas.files import KINDS
from tests.broad import BROAD
from tests.conftest import DropFolder

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Row = dict[str, object]

_NUMBERS = {
    "club_speed_mps": st.none() | st.floats(20, 65),
    "launch_deg": st.none() | st.floats(-15, 60),
    "carry_m": st.floats(31, 390),
    "offline_m": st.none() | st.floats(-30, 30),
    "spin_rpm": st.none() | st.floats(500, 12_000),
}
_FEW = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])


@st.composite
def sets_of_shots(draw: st.DrawFn) -> list[Row]:
    """Shots of up to four sessions, good rows only, in any order."""
    rows: list[Row] = []
    for session in range(draw(st.integers(1, 4))):
        for number in draw(st.lists(st.integers(1, 60), min_size=1, max_size=8, unique=True)):
            row: Row = {
                "session_id": f"S{session}",
                "player_id": f"P{session % 2}",
                "shot_no": number,
                "struck_at": datetime(2026, 3, 14, 10) + timedelta(seconds=40 * number),  # noqa: DTZ001 - local time of the file
                "club": draw(st.sampled_from(["driver", "7-iron", "3-wood"])),
                "counts": draw(st.none() | st.booleans()),
                "arm": draw(st.none() | st.sampled_from(["wide", 'two "words"', "a, b", "ä|ö", "=sum(1)"])),
            }
            row |= {name: draw(value) for name, value in _NUMBERS.items()}
            row["trial_id"] = "T1" if row["arm"] else None
            rows.append(row)
    return draw(st.permutations(rows))


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, datetime) else repr(value) if isinstance(value, float) else str(value)


def as_csv(rows: Sequence[Row]) -> bytes:
    frame = pl.DataFrame([{name: _text(value) or None for name, value in row.items()} for row in rows], infer_schema_length=None)
    return frame.write_csv().encode()


def as_json(rows: Sequence[Row]) -> bytes:
    return "".join(
        json.dumps({k: _text(v) if isinstance(v, datetime) else v for k, v in row.items()}) + "\n" for row in rows
    ).encode()


def as_parquet(rows: Sequence[Row]) -> bytes:
    out = io.BytesIO()
    pl.DataFrame(rows, infer_schema_length=None).write_parquet(out)
    return out.getvalue()


def as_sheet(rows: Sequence[Row]) -> bytes:
    """A spreadsheet keeps fifteen significant digits for certain; rows are rounded to them before."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False}) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, list(rows[0]))
        for at, row in enumerate(rows, 1):
            for place, value in enumerate(row.values()):
                if isinstance(value, datetime):
                    sheet.write_datetime(at, place, value, book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}))
                elif isinstance(value, float):
                    sheet.write_number(at, place, float(f"{value:.15g}"))
                elif value is not None:
                    sheet.write(at, place, value)
    return out.getvalue()


FORMATS = {".csv": as_csv, ".jsonl": as_json, ".parquet": as_parquet, ".xlsx": as_sheet}


def _values(ending: str, data: bytes) -> pl.DataFrame:
    content = native_content(ending, data)
    if isinstance(content, Plain):
        content = careful(data)
    assert isinstance(content, Cells)
    values, faults = typed(KINDS["shots"], content.rows, "Europe/Berlin")
    assert faults.is_empty()
    return values


@settings(max_examples=40, deadline=None)
@given(sets_of_shots())
def test_csv_json_parquet_and_sheets_hold_the_same_values(rows: list[Row]) -> None:
    rounded = [{k: float(f"{v:.15g}") if isinstance(v, float) else v for k, v in row.items()} for row in rows]
    expected = _values(".csv", as_csv(rounded))
    for ending, write in FORMATS.items():
        assert _values(ending, write(rounded)).equals(expected), ending


@settings(max_examples=60, deadline=None)
@given(sets_of_shots())
def test_the_quick_and_the_careful_reading_of_csv_agree(rows: list[Row]) -> None:
    data = as_csv(rows)
    quick, slow = plain(data), careful(data)
    assert isinstance(quick, Plain)
    assert isinstance(slow, Cells)
    assert (quick.header, quick.n_rows) == (slow.header, slow.n_rows)


@contextmanager
def _fresh_folder(migrated: Path) -> Iterator[DropFolder]:
    with tempfile.TemporaryDirectory() as place:
        for part in ("inbox", "mappings", "archive", "quarantine"):
            (Path(place) / part).mkdir()
        shutil.copy(migrated, Path(place) / "academy.duckdb")
        yield DropFolder(Path(place), Academy("Lakeside", "Europe/Berlin"))


def _taken_in(
    migrated: Path, files: Sequence[tuple[str, bytes]], runs: int, clock: int = 5
) -> dict[str, list[tuple[object, ...]]]:
    """The core tables after these files, dropped over several runs, all with the same clock."""
    with _fresh_folder(migrated) as folder:
        folder.people("P0 P1", sessions="S0 S1 S2 S3")
        for part in _parts(files, runs):
            for name, data in part:
                folder.drop(name, data, clock=clock)
            outcome = folder.run()
            assert outcome.n_rows == outcome.n_loaded + outcome.n_quarantined
        assert folder.faults() == {}
        return folder.core()


def _parts(files: Sequence[tuple[str, bytes]], runs: int) -> list[Sequence[tuple[str, bytes]]]:
    size = max(1, -(-len(files) // runs))
    return [files[at : at + size] for at in range(0, len(files), size)]


@_FEW
@given(data=st.data(), rows=sets_of_shots())
def test_one_file_or_many_in_any_order_and_format_give_the_same_warehouse(
    migrated: Path, data: st.DataObject, rows: list[Row]
) -> None:
    rows = [{k: float(f"{v:.15g}") if isinstance(v, float) else v for k, v in row.items()} for row in rows]
    expected = _taken_in(migrated, [("shots_all.csv", as_csv(rows))], runs=1)
    labels = data.draw(st.lists(st.integers(0, 3), min_size=len(rows), max_size=len(rows)))
    parts = [[row for row, label in zip(rows, labels, strict=True) if label == one] for one in range(4)]
    files = []
    for number, part in enumerate(parts):
        ending = data.draw(st.sampled_from(sorted(FORMATS)))
        if part:
            files.append((f"shots_{number}{ending}", FORMATS[ending](part)))
    files = data.draw(st.permutations(files))
    assert _taken_in(migrated, files, runs=data.draw(st.integers(1, 3))) == expected


@_FEW
@BROAD
@given(data=st.data())
def test_versions_of_sessions_settle_the_same_in_any_order_of_arrival(migrated: Path, data: st.DataObject) -> None:
    """Files that speak of the same sessions at different times: the newest counts, whenever each of them comes."""
    n_files = data.draw(st.integers(2, 5))
    files = []
    for number in range(n_files):
        numbers = data.draw(st.lists(st.integers(1, 6), min_size=1, max_size=5, unique=True))
        body = "".join(f"S0,P0,{n},2026-03-14T10:{n:02d}:00,driver,{40 + number}\n" for n in numbers)
        files.append((f"shots_{number}.csv", f"session_id,player_id,shot_no,struck_at,club,club_speed_mps\n{body}".encode()))
    clocks = data.draw(st.lists(st.integers(1, 9), min_size=n_files, max_size=n_files))
    order = data.draw(st.permutations(range(n_files)))
    one = _arriving(migrated, files, clocks, [list(range(n_files))])
    other = _arriving(migrated, files, clocks, [[at] for at in order])
    assert one == other


def _arriving(migrated: Path, files: list[tuple[str, bytes]], clocks: list[int], runs: list[list[int]]) -> object:
    with _fresh_folder(migrated) as folder:
        folder.people("P0", sessions="S0")
        for run in runs:
            for at in run:
                folder.drop(*files[at], clock=clocks[at])
            folder.run()
            folder.again(accepted=True)  # a file with fewer shots than there are
        assert folder.faults() == {}
        gone = folder.rows(
            "select file.name, line, newer.name as by_name from superseded_row join file using (file_id) "
            "join file as newer on newer.file_id = superseded_row.superseded_by order by all"
        )
        return folder.core(), gone.rows(), folder.rows("select name, status from file order by all").rows()
