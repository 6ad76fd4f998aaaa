"""The files of the invented academy against the contracts, and against themselves."""

from __future__ import annotations

import tomllib
from datetime import date
from functools import cache
from io import BytesIO

import polars as pl
import pytest

from pipelines.demo import DemoTruth, academy_files
from pipelines.demo.files import DemoFile
from pipelines.demo.mappings_text import MAPPINGS
from schemas.files import KINDS
from schemas.files.contract import contract
from schemas.files.rules import rules
from tests.broad import some_of


@cache
def academy() -> tuple[list[DemoFile], DemoTruth]:
    return academy_files(seed=7)


def kind_of(file: DemoFile) -> str:
    return file.name.split("_", 1)[0]


def _plain(file: DemoFile) -> bytes:
    return file.content.decode("utf-8-sig").replace("\r\n", "\n").strip().encode()


def _whole(files: list[DemoFile], truth: DemoTruth, kind: str) -> list[DemoFile]:
    """The files of a kind that are not damaged, each row once."""
    left_out = {file.name for file in truth.files if file.outcome != "loaded" and "agree" not in file.note}
    return [file for file in files if kind_of(file) == kind and file.name not in left_out]


def foreign(folder: str) -> list[DemoFile]:
    return [file for file in academy()[0] if file.name.startswith(f"{folder}/")]


def typed(files: list[DemoFile], kind: str) -> pl.DataFrame:
    """Native files of one kind, typed as the contract wants them; a cell that cannot be read fails the test."""
    schema = KINDS[kind].polars_schema()
    text = pl.concat([pl.read_csv(BytesIO(_plain(file)), infer_schema=False) for file in files], how="diagonal")
    columns = []
    for name, dtype in schema.items():
        if name not in text.columns:
            columns.append(pl.lit(None, dtype=dtype).alias(name))
        elif dtype == pl.Boolean():
            columns.append((pl.col(name) == "true").alias(name))
        elif dtype == pl.Datetime("us"):
            columns.append(pl.col(name).str.slice(0, 16).str.to_datetime("%Y-%m-%dT%H:%M", time_unit="us").alias(name))
        elif dtype == pl.Date():
            columns.append(pl.col(name).str.to_date("%Y-%m-%d"))
        else:
            columns.append(pl.col(name).cast(dtype))
    return text.select(columns)


@pytest.mark.parametrize("kind", some_of(kind for kind in KINDS if kind != "decisions"))
def test_every_native_file_that_is_not_damaged_satisfies_its_contract(kind: str) -> None:
    files, truth = academy()
    rows = typed(_whole(files, truth, kind), kind)
    contract(kind).validate(rows, lazy=True)
    assert rows.select(KINDS[kind].key).is_unique().all() or kind == "players"


def test_damaged_files_break_the_rules_that_the_truth_names_and_no_others() -> None:
    files, truth = academy()
    contents = {file.name: file.content for file in files}
    partly = [file for file in truth.files if file.outcome == "partly" and file.rejected]
    assert len(partly) >= 4
    for file in partly:
        lines = contents[file.name].decode("utf-8-sig").splitlines()
        assert file.n_rows == len(lines) - 1
        rejected = {row.line for row in (*file.rejected, *file.emptied)}
        assert len(rejected) <= file.n_rows / 2
        good = "\n".join(line for number, line in enumerate(lines, start=1) if number not in rejected)
        kind = file.name.split("_", 1)[0]
        rows = typed([DemoFile(file.name, good.encode(), truth.until_on, 0)], kind)
        contract(kind).validate(rows, lazy=True)
        assert rows.select(KINDS[kind].key).is_unique().all()


def test_contract_rules_of_the_truth_are_codes_that_exist() -> None:
    _, truth = academy()
    intake_codes = {
        "not_a_number",
        "not_an_instant",
        "not_a_day",
        "duplicate",
        "unknown_player",
        "ragged_row",
        "no_health_consent",
    }
    codes = {rule.code for kind in KINDS for rule in rules(kind)} | intake_codes
    assert {row.rule for file in truth.files for row in file.rejected} <= codes


def test_held_files_are_held_for_the_reason_that_the_truth_names() -> None:
    files, truth = academy()
    contents = {file.name: file.content for file in files}
    held = {file.name: file for file in truth.files if file.outcome == "held"}
    assert len(held) >= 6
    header = next(name for name in held if "other-header" in name)
    assert not set(KINDS["shots"].required) <= set(contents[header].split(b"\n")[0].decode().split(","))
    swapped = next(name for name in held if "other-units" in name)
    rows = typed([file for file in files if file.name == swapped], "shots")
    contract("shots").validate(rows, lazy=True)
    assert rows["club_speed_mps"].min() > 55, "a 7-iron at this speed is in miles an hour"  # type: ignore[operator]


def test_a_copy_is_the_same_bytes_and_a_correction_is_newer() -> None:
    files, truth = academy()
    by_name = {file.name: file for file in files}
    copy = next(file for file in truth.files if file.outcome == "duplicate")
    assert by_name[copy.name].content == by_name[copy.name.replace("_copy", "")].content
    correction = next(file for file in truth.files if file.outcome == "corrects")
    session = by_name[correction.name].content.split(b"\n")[1].split(b",")[0]
    earlier = [f for f in files if f.name.startswith("sessions_") and session in f.content and f.name != correction.name]
    assert [file.modified_on < by_name[correction.name].modified_on for file in earlier] == [True]


def test_players_sessions_and_trials_that_are_named_exist() -> None:
    files, truth = academy()
    tables = {kind: typed(_whole(files, truth, kind), kind) for kind in KINDS if kind != "decisions"}
    for kind, rows in tables.items():
        for reference in KINDS[kind].references:
            named = set(rows[reference.column]) - {None}
            assert named <= set(tables[reference.kind][KINDS[reference.kind].key[0]]), (kind, reference.column)


def test_same_seed_gives_the_same_bytes_and_another_seed_others() -> None:
    files, truth = academy_files(seed=3, n_players=3, until_on=date(2024, 9, 30))
    again, truth_again = academy_files(seed=3, n_players=3, until_on=date(2024, 9, 30))
    other, _ = academy_files(seed=4, n_players=3, until_on=date(2024, 9, 30))
    assert (files, truth) == (again, truth_again)
    assert [file.name for file in files][:3] == [file.name for file in other][:3]
    assert files != other


def test_size_is_that_of_a_small_academy() -> None:
    files, truth = academy()
    assert 300 <= len(files) <= 850
    assert 60_000 <= truth.n_shots <= 110_000
    assert max(file.modified_on for file in files) == truth.until_on


@pytest.mark.parametrize(("until_on", "n_players"), [(date(2024, 3, 1), 24), (date(2026, 10, 1), 24), (date(2025, 1, 1), 25)])
def test_days_and_players_that_were_never_invented_are_refused(until_on: date, n_players: int) -> None:
    with pytest.raises(ValueError, match="the invented academy"):
        academy_files(seed=1, until_on=until_on, n_players=n_players)


def test_foreign_exports_are_in_layouts_of_their_own() -> None:
    hall, seaside = foreign("hall"), foreign("seaside")
    assert len(hall) >= 20
    assert len(seaside) >= 20
    first = hall[0].content.decode("cp1252").splitlines()
    assert first[0].endswith(";p22")
    assert "Schläger" in first[2]
    assert first[-1].startswith("Mittelwert;")
    assert all(line.count(";") == first[2].count(";") for line in first[2:])
    lines = seaside[0].content.decode().splitlines()
    assert lines[1].startswith(",,,mph,mph")
    assert all(line.count(",") == lines[0].count(",") for line in lines)


@pytest.mark.parametrize("name", list(MAPPINGS))
def test_mappings_name_every_column_of_their_export(name: str) -> None:
    mapping = tomllib.loads(MAPPINGS[name])
    text = foreign(name)[0].content.decode(mapping.get("encoding", "utf-8"))
    header = text.splitlines()[mapping.get("skip_lines", 0)].split(mapping.get("delimiter", ","))
    assert {rule["from"] for rule in mapping["columns"].values()} == set(header)
