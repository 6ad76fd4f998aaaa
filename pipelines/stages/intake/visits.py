"""Two visits on one day: sessions whose id a mapping makes from player and day are told apart by a gap in time."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.mapping import Mapping
from schemas.files import KINDS
from warehouse.files import visit_times

if TYPE_CHECKING:
    import duckdb

    from pipelines.stages.intake.batch import Incoming, Rows
    from pipelines.stages.intake.reading import Readings

GAP = timedelta(hours=3)
"""Shots further apart than this belong to two visits (common practice: a visit with its pauses is shorter)."""

Visit = tuple[datetime, datetime, str]


def told_apart(con: duckdb.DuckDBPyConnection, batch: list[Incoming], rows: Rows, readings: Readings) -> Rows:
    """Rows of shots in which a second visit has its own session id: ``P07-2026-03-14-2``."""
    places = [place for place, incoming in enumerate(batch) if _makes_ids(incoming, readings)]
    if not places or not {"session_id", "struck_at"} <= set(rows.cells.columns):
        return rows
    struck, _ = typed(KINDS["shots"], rows.cells.select("struck_at"), readings.time_zone)
    shots = (
        pl.DataFrame({"session_id": rows.cells["session_id"].str.strip_chars(), "at": struck["struck_at"], "file": rows.file})
        .with_row_index("row")
        .filter(pl.col("file").is_in(places))
        .drop_nulls()
        .sort("session_id", "at", "row")
    )
    apart = (pl.col("at") - pl.col("at").shift(1)).over("session_id") > GAP
    visits = shots.with_columns(apart.fill_null(value=False).cum_sum().over("session_id").alias("visit"))
    spans = visits.group_by("session_id", "visit").agg(pl.col("at").min().alias("first"), pl.col("at").max().alias("last"))
    names = pl.DataFrame(
        _named(spans.sort("session_id", "visit"), visit_times(con, spans["session_id"])),
        schema={"session_id": pl.String, "visit": spans.schema["visit"], "own": pl.String},
        orient="row",
    )
    changed = visits.join(names.filter(pl.col("own") != pl.col("session_id")), on=["session_id", "visit"])
    ids = rows.cells["session_id"].scatter(changed["row"], changed["own"])
    return replace(rows, cells=rows.cells.with_columns(ids))


def _makes_ids(incoming: Incoming, readings: Readings) -> bool:
    mapping = readings.mapping(incoming.arrival.mapping) if incoming.arrival.mapping else None
    return (
        isinstance(mapping, Mapping)
        and bool(mapping.session)
        and any(rule.target == "session_id" and rule.template for rule in mapping.columns)
    )


def _named(spans: pl.DataFrame, there: pl.DataFrame) -> list[tuple[str, int, str]]:
    """Each new span with the id of the visit that it belongs to: one that is there, or the next free number."""
    known: dict[str, list[Visit]] = {}
    for day, session_id, first, last in there.iter_rows():
        known.setdefault(day, []).append((first, last, session_id))
    found = []
    for day, visit, first, last in spans.iter_rows():
        visits = known.setdefault(day, [])
        own = _met(visits, first, last) or _next_free(day, visits)
        visits.append((first, last, own))
        found.append((day, visit, own))
    return found


def _met(visits: list[Visit], first: datetime, last: datetime) -> str:
    return next((own for begun, ended, own in visits if first - ended <= GAP and begun - last <= GAP), "")


def _next_free(day: str, visits: list[Visit]) -> str:
    taken = {own for _, _, own in visits}
    return next(own for n in range(1, len(taken) + 2) if (own := day if n == 1 else f"{day}-{n}") not in taken)
