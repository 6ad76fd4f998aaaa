"""The files of the invented academy against the contracts, and against themselves."""

from __future__ import annotations

from datetime import date
from functools import cache
from io import BytesIO

import polars as pl
import pytest

from pipelines.demo import DemoTruth, academy_files
from pipelines.demo.files import DemoFile
from schemas.files import KINDS
from schemas.files.contract import contract


@cache
def academy() -> tuple[list[DemoFile], DemoTruth]:
    return academy_files(seed=7)


def kind_of(file: DemoFile) -> str:
    return file.name.split("_", 1)[0]


def typed(files: list[DemoFile], kind: str) -> pl.DataFrame:
    """Native files of one kind, typed as the contract wants them; a cell that cannot be read fails the test."""
    schema = KINDS[kind].polars_schema()
    text = pl.concat([pl.read_csv(BytesIO(file.content), infer_schema=False) for file in files], how="diagonal")
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


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "decisions"])
def test_every_native_file_that_is_not_damaged_satisfies_its_contract(kind: str) -> None:
    files, truth = academy()
    damaged = {file.name for file in truth.files}
    rows = typed([file for file in files if kind_of(file) == kind and file.name not in damaged], kind)
    contract(kind).validate(rows, lazy=True)
    assert rows.select(KINDS[kind].key).is_unique().all() or kind == "players"


def test_players_sessions_and_trials_that_are_named_exist() -> None:
    files, _ = academy()
    tables = {kind: typed([file for file in files if kind_of(file) == kind], kind) for kind in KINDS if kind != "decisions"}
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
