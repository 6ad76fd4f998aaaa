"""More than three hundred damaged files at once: no traceback, each accounted for, and the good files of the run load."""

from __future__ import annotations

import gzip
import io
import os
import random
import stat
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import pytest
import xlsxwriter

from pipelines.stages.intake import disk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.conftest import DropFolder

HEADER = "session_id,player_id,shot_no,struck_at,club,club_speed_mps,arm\n"
N_SHOTS = 12


def good(session: str = "S1") -> str:
    return HEADER + "".join(f"{session},P1,{n},2026-03-14T10:{n:02d}:00,driver,{45 + n / 10},\n" for n in range(1, N_SHOTS + 1))


def _cut(data: bytes, n: int, ending: str) -> Iterator[tuple[str, bytes]]:
    for step in range(1, n + 1):
        yield ending, data[: len(data) * step // (n + 1)]


def _flipped(data: bytes, n: int, ending: str, seed: int) -> Iterator[tuple[str, bytes]]:
    chance = random.Random(seed)  # noqa: S311 - damage, not secrets
    for _ in range(n):
        damaged = bytearray(data)
        for _ in range(chance.randint(1, 8)):
            damaged[chance.randrange(len(damaged))] = chance.randrange(256)
        yield ending, bytes(damaged)


def _in_lines(change: dict[str, object]) -> Iterator[tuple[str, bytes]]:
    """One change to one line, for many lines."""
    for edit in change.values():
        for at in range(0, N_SHOTS + 1, 2):
            lines = good().splitlines()
            lines[at] = edit(lines[at])  # type: ignore[operator]
            yield ".csv", ("\n".join(lines) + "\n").encode()


EDITS: dict[str, object] = {
    "one cell more": lambda line: line + "x",
    "cells more": lambda line: line + ",x,y,z",
    "one cell less": lambda line: line.rsplit(",", 1)[0],
    "half a line": lambda line: line[: len(line) // 2],
    "open quote": lambda line: line.replace("driver", '"driver'),
    "closing quote": lambda line: line.replace("driver", 'driver"'),
    "quote inside": lambda line: line.replace("driver", '"dri"ver"'),
    "nul byte": lambda line: line.replace("driver", "dri\0ver"),
    "escape signs": lambda line: line.replace("driver", "\x1b[31mdriver"),
    "formula": lambda line: line.replace("P1", "=1+1"),
    "script": lambda line: line.replace("P1", "<script>alert(1)</script>"),
    "path": lambda line: line.replace("P1", "../../etc/passwd"),
    "not a number": lambda line: line.rsplit(",", 2)[0] + ",nan,",
    "two lines in one": lambda line: line + line,
    "separators only": lambda line: "," * line.count(","),
    "another alphabet": lambda line: line.replace("driver", "драйвер"),
}  # fmt: skip


def _packed(names: dict[str, bytes], **options: object) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in names.items():
            entry = zipfile.ZipInfo(name)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = int(options.get("mode", 0o644)) << 16  # type: ignore[call-overload]
            archive.writestr(entry, data)
    return out.getvalue()


def _sheet(rows: list[list[object]], formula: str = "") -> bytes:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        sheet = book.add_worksheet()
        for at, row in enumerate(rows):
            sheet.write_row(at, 0, row)
        if formula:
            sheet.write_formula(1, 5, formula, None, "")
    return out.getvalue()


def _sheet_rows() -> list[list[object]]:
    return [line.split(",") for line in good().splitlines()]


def _frame() -> pl.DataFrame:
    return pl.read_csv(good().encode(), infer_schema=False)


def _parquet(frame: pl.DataFrame) -> bytes:
    out = io.BytesIO()
    frame.write_parquet(out)
    return out.getvalue()


def _odd_text() -> Iterator[tuple[str, bytes]]:
    text = good()
    yield from (
        (".csv", content) for content in (b"", b"\n", b" \n \n", b"\0" * 5000, b"\xef\xbb\xbf", HEADER.encode(), b",,,,\n,,,,\n")
    )
    yield ".csv", text.replace("driver", "fähre").encode("latin-1")
    yield ".csv", text.encode("utf-16-le")
    yield ".csv", text.encode("utf-32")
    yield ".csv", text.encode("cp037")
    yield ".csv", text.encode("utf-16")[:-1]
    yield ".csv", HEADER.replace("club,", "shot_no,").encode() + b"S1,P1,1,2026-03-14T10:00:00,2,45,\n"
    yield ".csv", HEADER.replace("club", "").encode() + b"S1,P1,1,2026-03-14T10:00:00,driver,45,\n"
    yield ".csv", text.replace(",", ";").encode()
    yield ".csv", text.replace("\n", "\r").replace("club_speed_mps", "nothing").encode()
    yield ".csv", text.replace("2026-03-14T10", "14.03.2026 10").encode()
    yield ".csv", HEADER.encode() + b"S1,P1,1,2026-03-14T10:00:00,driver," + b"9" * 10_000_000 + b",\n"
    yield ".csv", b"x" * 10_000_000
    yield ".csv", text.encode() + b'S1,P1,99,2026-03-14T10:00:00,driver,45,"' + b"y" * 10_000_000
    yield ".csv", text.encode() + b'S1,P1,99,2026-03-14T10:00:00,driver,45,"open\n' * 200


def _odd_formats() -> Iterator[tuple[str, bytes]]:
    text = good().encode()
    for ending in (".xlsx", ".parquet", ".jsonl", ".csv.gz", ".zip", ".pdf", ""):
        yield ending, text
    yield ".csv", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20
    yield ".csv", _sheet(_sheet_rows())
    yield ".csv.gz", gzip.compress(b"0" * 30_000_000)
    yield ".zip", _packed({"shots_1.csv": b"0" * 30_000_000})
    yield ".zip", _packed({f"shots_{n}.csv": b"x" for n in range(2100)})
    for name in ("../shots_1.csv", "/etc/shots_1.csv", "a/../../shots_1.csv", "C:/shots_1.csv", "..\\shots_1.csv"):
        yield ".zip", _packed({name: text})
    yield ".zip", _packed({"shots_1.csv": b"/etc/passwd"}, mode=stat.S_IFLNK | 0o777)
    yield ".zip", _packed({})
    yield ".zip", _packed({"inner.zip": _packed({"shots_1.csv": text})})
    yield ".parquet", _parquet(_frame().select("club"))
    yield ".parquet", _parquet(_frame().with_columns(club=pl.concat_list("club")))
    yield ".parquet", _parquet(_frame().clear())
    yield ".xlsx", _sheet([])
    yield ".xlsx", _sheet([["a", "a"], [1, 2]])
    yield ".xlsx", _sheet(_sheet_rows(), "=1/0")
    yield ".xlsx", _packed({"xl/workbook.xml": b"<x/>"})
    yield ".jsonl", b'[{"session_id": "S1"}]'
    yield ".jsonl", b'{"session_id": ' + b"[" * 5000 + b"\n"
    yield ".jsonl", b'{"session_id": "S1", "session_id": "S2"}\n{"session_id": {"a": 1}}\n'
    yield ".jsonl", b'{"a": NaN}\n\xff\xfe\n\0\n'


def damaged(times: int = 1) -> list[tuple[str, bytes]]:
    """Endings and contents, the same at each call; ``times`` as many of those that chance damages."""
    text = good().encode()
    lines = pl.read_csv(text, infer_schema=False)
    json_lines, parquet, sheet = lines.write_ndjson().encode(), _parquet(lines), _sheet(_sheet_rows())
    packed, archive = gzip.compress(text), _packed({"shots_1.csv": text})
    whole = [
        *_cut(text, 40, ".csv"), *_in_lines(EDITS), *_odd_text(), *_odd_formats(), *_cut(json_lines, 10, ".jsonl"),
        *_cut(parquet, 10, ".parquet"), *_cut(sheet, 10, ".xlsx"), *_cut(packed, 8, ".csv.gz"), *_cut(archive, 8, ".zip"),
    ]  # fmt: skip
    for seed in range(times):
        whole += [
            *_flipped(text, 40, ".csv", 10 * seed + 1), *_flipped(json_lines, 10 * times, ".jsonl", 10 * seed + 2),
            *_flipped(parquet, 15 * times, ".parquet", 10 * seed + 3), *_flipped(sheet, 15, ".xlsx", 10 * seed + 4),
            *_flipped(packed, 8, ".csv.gz", 10 * seed + 5), *_flipped(archive, 8, ".zip", 10 * seed + 6),
        ]  # fmt: skip
    return whole


def test_three_hundred_damaged_files_cost_nothing_but_themselves(folder: DropFolder) -> None:
    corpus = damaged()
    assert len(corpus) >= 300
    folder.people("P1", sessions=" ".join(f"S{n}" for n in range(1, 30)))
    for number, (ending, data) in enumerate(corpus):
        # each file has its own content, so that none is known by another
        folder.drop(f"shots_{number:03d}{ending}", data + b"\n" * number if ending == ".csv" else data)
    for number in range(20, 23):
        folder.drop(f"shots_good_{number}.csv", good(f"S{number}"))
    outcome = folder.run()
    for file in outcome.files:
        assert file.n_rows == file.n_loaded + file.n_quarantined
        assert file.status in {"loaded", "held", "unchanged"}, file
    by_name = {file.name: file for file in outcome.files}
    assert all(by_name[f"shots_good_{number}.csv"].n_loaded == N_SHOTS for number in range(20, 23))
    assert folder.names("inbox") == []
    silent = folder.rows(
        "select name from file where status = 'held' and file_id not in (select file_id from problem where hint <> '')"
    )
    assert silent.is_empty()
    unlisted = folder.rows("select file_id from file where n_quarantined > 0 and file_id not in (select file_id from problem)")
    assert unlisted.is_empty()
    kept = folder.rows("select kept_as from file where name not like '%.zip' and name not like '%.gz'")["kept_as"]
    assert all((folder.root / place).exists() for place in kept)
    assert folder.faults() == {}


@pytest.mark.parametrize("edit", ["one cell more", "half a line", "open quote", "quote inside", "nul byte", "two lines in one"])
def test_one_bad_line_costs_that_line_only(folder: DropFolder, edit: str) -> None:
    folder.people()
    lines = good().splitlines()
    lines[5] = EDITS[edit](lines[5])  # type: ignore[operator]
    folder.drop("shots_a.csv", "\n".join(lines) + "\n")
    file = folder.files()["shots_a.csv"]
    assert (file.n_rows, file.n_loaded) == (N_SHOTS, N_SHOTS - 1)
    assert folder.rows("select distinct line from problem")["line"].to_list() == [6]


def test_links_folders_and_pipes_are_set_aside_unopened(folder: DropFolder) -> None:
    folder.people()
    secret = folder.root / "secret.csv"
    secret.write_text(good())
    inbox = folder.root / "inbox"
    (inbox / "shots_link.csv").symlink_to(secret)
    (inbox / "shots_nowhere.csv").symlink_to("nowhere")
    (inbox / "linked").symlink_to(folder.root)
    (inbox / "shots_folder.csv").mkdir()
    (inbox / "shots_folder.csv" / "shots_inside.csv").write_text(good("S2"))
    os.mkfifo(inbox / "shots_pipe.csv")
    folder.drop("shots_good.csv", good())
    folder.drop(".hidden.csv", "x")
    folder.drop("shots_half.csv.part", "x")
    reasons = {file.name: file.reason for file in folder.run().files}
    assert reasons["shots_link.csv"] == reasons["shots_nowhere.csv"] == reasons["linked"] == "a_link"
    assert reasons["shots_folder.csv"] == reasons["shots_pipe.csv"] == "not_a_file"
    assert reasons["shots_good.csv"] == ""
    assert secret.read_text() == good()
    assert folder.names("inbox") == [".hidden.csv", "shots_half.csv.part"]
    assert folder.rows("select count(*) as n from shot")["n"].item() == N_SHOTS


def test_a_file_that_may_not_be_read_is_held(folder: DropFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    folder.people()
    folder.drop("shots_shut.csv", good())
    really_open = os.open

    def refuse(path: object, *rest: object) -> int:
        if "inbox/shots_shut" in str(path):
            raise PermissionError
        return really_open(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(disk.os, "open", refuse)
    assert folder.files()["shots_shut.csv"].reason == "no_permission"


def test_files_that_come_go_and_grow_while_the_run_reads(folder: DropFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    folder.people("P1")
    folder.drop("shots_a.csv", good("S1"))
    folder.drop("shots_b_goes.csv", good("S2"))
    folder.drop("shots_c_grows.csv", good("S3"))
    really = disk.content

    def meddle(arrival: object) -> bytes | str:
        if "shots_a" in arrival.name:  # type: ignore[attr-defined]
            (folder.root / "inbox" / "shots_b_goes.csv").unlink(missing_ok=True)
            folder.drop("shots_d_comes.csv", good("S2"))
            with (folder.root / "inbox" / "shots_c_grows.csv").open("a") as file:
                file.write("S3,P1,13,2026-03-14T10:13:00,driver,45,\n")
        return really(arrival)  # type: ignore[arg-type]

    monkeypatch.setattr(disk, "content", meddle)
    first = folder.files()
    monkeypatch.setattr(disk, "content", really)
    assert (first["shots_b_goes.csv"].status, first["shots_c_grows.csv"].status) == ("waiting", "waiting")
    assert folder.names("inbox") == ["shots_c_grows.csv", "shots_d_comes.csv"]
    folder.run()
    assert folder.names("inbox") == []
    kept = folder.rows("select session_id, count(*) as n from shot group by 1 order by 1").rows()
    assert kept == [("S1", N_SHOTS), ("S2", N_SHOTS), ("S3", N_SHOTS + 1)]
    assert folder.faults() == {}


def test_a_file_that_is_still_being_copied_waits(folder: DropFolder) -> None:
    folder.people()
    path = folder.drop("shots_a.csv", good())
    with path.open("a"):
        assert folder.files()["shots_a.csv"].status == "waiting"
    assert folder.files()["shots_a.csv"].n_loaded == N_SHOTS


def test_odd_names_stay_inside_the_workspace(folder: DropFolder) -> None:
    folder.people()
    names = [
        "shots_ä ö.csv",
        "shots_" + "x" * 200 + ".csv",
        "shots_<b>.csv",
        "shots_'; drop table shot;--.csv",
        "-rf shots.csv",
        "shots_\n.csv",
    ]
    for number, name in enumerate(names):
        folder.drop(name, good("S1").replace("45.", f"4{number}."))
    (folder.root / "inbox").joinpath(os.fsdecode(b"shots_\xff\xfe.csv")).write_text(good("S2"))
    folder.run()
    assert folder.names("inbox") == []
    assert all(path.is_relative_to(folder.root) for path in folder.root.rglob("*"))
    assert folder.faults() == {}


CJK = "\u9ad8\u723e\u592b" * 26
ONE_BAD_ROW = good("S2") + "S2,P1,99,2026-03-14T10:09:00,driver,fast,\n"
ODD = {
    "shots_surrogate.jsonl": b'{"session_id": "S2", "player_id": "P1", "shot_no": 1, "note": "\\ud83d"}\n',
    "shots_surrogate_name.jsonl": b'{"session_id": "S2", "\\ud83d": 1}\n',
    f"shots_{CJK[:76]}.csv": ONE_BAD_ROW.encode(),
}


@pytest.mark.parametrize("name", sorted(ODD))
def test_an_odd_text_or_name_stops_nothing(folder: DropFolder, name: str) -> None:
    folder.people("P1")
    folder.drop("shots_good.csv", good())
    folder.drop(name, ODD[name])
    outcomes = folder.files()
    assert outcomes["shots_good.csv"].n_loaded == N_SHOTS
    assert outcomes[name].n_quarantined + (outcomes[name].status == "held") >= 1
    assert folder.rows("select count(*) as n from problem")["n"].item() >= 1
    assert (folder.names("inbox"), folder.faults()) == ([], {})


def test_an_archive_entry_with_a_long_name_stops_nothing(folder: DropFolder) -> None:
    folder.people("P1")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr(f"shots_{CJK[:76]}.csv", ONE_BAD_ROW)
        archive.writestr("shots_inside.csv", good("S1"))
    folder.drop("shots_march.zip", packed.getvalue())
    loaded = {file.name.rpartition("/")[2]: file.n_loaded for file in folder.run().files}
    assert loaded["shots_inside.csv"] == loaded[f"shots_{CJK[:76]}.csv"] == N_SHOTS
    assert folder.faults() == {}


def test_folders_fifteen_hundred_deep_are_held_and_their_files_kept(folder: DropFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    folder.people("P1")
    monkeypatch.chdir(folder.root / "inbox")
    for _ in range(1500):
        Path("d").mkdir()
        os.chdir("d")
    Path("shots_lost.csv").write_text(good("S2"))
    os.chdir(folder.root)
    folder.drop("shots_good.csv", good())
    outcomes = folder.files()
    assert outcomes["shots_good.csv"].n_loaded == N_SHOTS
    assert [outcome.reason for name, outcome in outcomes.items() if name.startswith("d/d/")] == ["too_deep"]
    kept = list((folder.root / "quarantine").rglob("*shots_lost.csv"))
    assert [path.read_text() for path in kept] == [good("S2")]
    folder.drop("shots_more.csv", good("S3"))
    assert folder.files()["shots_more.csv"].n_loaded == N_SHOTS


def test_a_stray_cell_at_the_far_end_of_a_sheet_holds_that_workbook_only(folder: DropFolder) -> None:
    folder.people("P1")
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        page = book.add_worksheet()
        page.write_row(0, 0, HEADER.strip().split(","))
        page.write_blank(1_048_575, 16_383, None, book.add_format({"bold": True}))
    folder.drop("shots_stray.xlsx", out.getvalue())
    folder.drop("shots_good.csv", good())
    outcomes = folder.files()
    assert outcomes["shots_stray.xlsx"].reason == "sheet_too_wide"
    assert outcomes["shots_good.csv"].n_loaded == N_SHOTS


def test_a_link_is_never_kept(folder: DropFolder) -> None:
    secret = folder.root / "secret.csv"
    secret.write_text(good())
    (folder.root / "inbox" / "shots_link.csv").symlink_to(secret)
    (folder.root / "inbox" / "shots_folder.csv").mkdir()
    (folder.root / "inbox" / "shots_folder.csv" / "inner.csv").symlink_to(secret)
    folder.run()
    assert [path for path in (folder.root / "quarantine").rglob("*") if path.is_symlink()] == []
    assert folder.names("inbox") == []
    assert secret.read_text() == good()
