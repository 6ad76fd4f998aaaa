"""1,000 players, two years of sessions and check-ins with thirteen regions: the whole load and body computation of a night."""

from __future__ import annotations

import datetime as dt
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from pipelines.measures.body.items import ITEMS
from pipelines.stages.measure.body import measure_body
from pipelines.stages.measure.load import measure_load
from pipelines.stages.measure.overuse import measure_overuse
from pipelines.stages.measure.squad_health import measure_squad_health
from schemas.academy import Academy
from warehouse.connection import insert_frame, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

pytestmark = pytest.mark.benchmark
N_PLAYERS, N_DAYS, FIRST = 1000, 730, dt.date(2024, 1, 1)
LIMIT_S = 20.0


def _fill(con: duckdb.DuckDBPyConnection) -> None:
    rng = np.random.default_rng(1)
    player = np.repeat(np.arange(N_PLAYERS), N_DAYS)
    on = pl.Series(np.tile(np.arange(N_DAYS), N_PLAYERS)).cast(pl.Int32) + (FIRST - dt.date(1970, 1, 1)).days
    names = pl.Series([f"p{number:04d}" for number in range(N_PLAYERS)])
    base = pl.DataFrame({"player_id": names.gather(player), "on_date": on.cast(pl.Date)}).with_columns(
        file_id=pl.lit("f"), line=pl.lit(1)
    )
    con.execute("insert into academy values ('Large', 'UTC')").fetchall()
    insert_frame(
        con,
        "player",
        pl.DataFrame({"player_id": names, "alias": names}).with_columns(health_consent=True, file_id=pl.lit("f"), line=1),
    )
    trains = rng.random(base.height) < 0.55
    sessions = base.with_columns(
        session_id=pl.Series([f"s{number}" for number in range(base.height)]),
        started_at=pl.col("on_date").cast(pl.Datetime("us")),
        kind=pl.Series(np.where(trains, "range", "rest")),
        duration_min=pl.Series(rng.uniform(30, 120, base.height)),
        effort=pl.Series(rng.integers(3, 9, base.height).astype(float)),
        swings_full=pl.Series(np.where(trains, rng.integers(50, 150, base.height), 0)),
    ).drop("on_date")
    insert_frame(con, "session", sessions.filter(pl.Series(rng.random(base.height) < 0.9)))
    answers = {name: pl.Series(np.clip(np.round(rng.normal(2, 0.9, base.height)), 0, 10)) for name in ITEMS}
    answers["sleep_h"] = pl.Series(np.round(rng.normal(7.5, 0.6, base.height), 1))
    checkins = base.rename({"on_date": "date"}).with_columns(**answers).filter(pl.Series(rng.random(base.height) < 0.8))
    insert_frame(con, "checkin", checkins)


def test_a_night_of_load_and_body_for_a_thousand_players(tmp_path: Path) -> None:
    academy, as_of = Academy("Large", "UTC"), FIRST + dt.timedelta(days=N_DAYS - 1)
    with open_warehouse(tmp_path / "academy.duckdb") as con:
        _fill(con)
        began, total = time.perf_counter(), 0.0
        for stage in (measure_load, measure_body, measure_overuse, measure_squad_health):
            stage(con, academy, as_of)
            spent, began = time.perf_counter() - began, time.perf_counter()
            total += spent
            sys.stdout.write(f"\n{stage.__name__}: {spent:.1f} s")
    sys.stdout.write(f"\ntogether: {total:.1f} s\n")
    assert total < LIMIT_S
