"""The federation's norms in an academy: taken before a night, kept when they cannot be, gone when unwanted, and said."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from pipelines.stages.take_norms import take_norms
from pipelines.workspace import Workspace
from reports.federation.beside import beside
from reports.pages.context import page_context
from schemas.academy import Academy, Share, Units
from schemas.core import core_tables
from schemas.shared import FEDERATION_NORM, NORMS_PATH
from warehouse.connection import frame, insert_frame, open_warehouse
from warehouse.marts import Marts

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

MARCH = dt.date(2026, 3, 1)


def norms(**changed: Any) -> pl.DataFrame:
    row = {"month_on": MARCH, "n_persons": 240, "n_academies": 9, "speed_centre_mps": 44.0, "speed_spread_pct": 9.0}
    row |= {f"speed_p{share}_mps": 30.0 + share / 4 for share in (10, 25, 50, 75, 90)}
    women = row | {"sex": "female", "n_persons": 80, "speed_centre_mps": 38.0}
    return pl.DataFrame([row | changed, women], schema=FEDERATION_NORM.polars_schema(), orient="row")


@pytest.fixture
def con(tmp_path: Path, migrated: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    (tmp_path / "academy.duckdb").write_bytes(migrated.read_bytes())
    with open_warehouse(tmp_path / "academy.duckdb") as connection:
        yield connection


def academy(folder: Path, *, take: bool = True) -> Academy:
    return Academy("Lakeside", "UTC", units=Units("m/s", "m"), share=Share(str(folder), "lakeside", take_norms=take))


def give(folder: Path, rows: pl.DataFrame) -> None:
    (folder / "norms").mkdir(parents=True, exist_ok=True)
    rows.write_parquet(folder / NORMS_PATH)


def test_norms_are_taken_replaced_and_given_up(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    folder, workspace = tmp_path / "shared", Workspace(tmp_path)
    assert take_norms(con, workspace, academy(folder)) == ""
    for n in (240, 260):
        give(folder, norms(n_persons=n))
        assert take_norms(con, workspace, academy(folder)) == ""
        assert frame(con, "select max(n_persons) as n from federation_norm")["n"].to_list() == [n]
    assert take_norms(con, workspace, academy(folder, take=False)) == ""
    assert frame(con, "select * from federation_norm").is_empty()


def test_norms_that_cannot_be_used_leave_those_from_before(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    folder, workspace = tmp_path / "shared", Workspace(tmp_path)
    give(folder, norms())
    take_norms(con, workspace, academy(folder))
    before = frame(con, "select * from federation_norm")
    give(folder, norms(n_persons=3))
    assert "at least 5 persons" in take_norms(con, workspace, academy(folder))
    (folder / NORMS_PATH).write_bytes(b"no parquet")
    assert "cannot be read" in take_norms(con, workspace, academy(folder))
    assert "nowhere" in take_norms(con, workspace, Academy("x", "UTC", share=Share("nowhere://x", "x", take_norms=True)))
    assert frame(con, "select * from federation_norm").equals(before)


def norm(**values: Any) -> pl.DataFrame:
    table = core_tables()["trend_norm"]
    row = {"metric": "club_speed_mps", "club_group": "driver", "from_on": dt.date(2026, 4, 1), "n_players": 0, "n_pairs": 0}
    row |= dict.fromkeys(("session_sd", "shot_sd", "typical_error", "worthwhile", "detectable", "correlation"), 1.0)
    return pl.DataFrame([row | values], schema=table.polars_schema(), orient="row")


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"is_prior": True, "prior_on": MARCH, "worthwhile": 1.27}, "1.3 % is taken from the federation's norms of March 2026"),
        ({"is_prior": True}, "The starting values of the program hold."),
        ({"is_prior": False}, "The squad's own sessions tell its smallest worthwhile change"),
    ],
)
def test_the_squads_page_says_what_is_usual_there_and_whether_it_is_used(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, values: dict[str, Any], says: str
) -> None:
    give(tmp_path / "shared", norms())
    take_norms(con, Workspace(tmp_path), academy(tmp_path / "shared"))
    insert_frame(con, "trend_norm", norm(**values))
    context = page_context(academy(tmp_path / "shared"), "coach", MARCH)
    told = str(beside(Marts(con, "coach"), context)).replace("\N{NARROW NO-BREAK SPACE}", " ").replace("&#39;", "'")
    assert "in March 2026: half of 240 persons of 9 academies swing 42.5 m/s or faster, one in ten 52.5 m/s or faster" in told
    assert "female" in told
    assert says in told


def test_a_squad_without_norms_says_nothing_of_them(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    assert beside(Marts(con, "coach"), page_context(academy(tmp_path), "coach", MARCH)) == ""
