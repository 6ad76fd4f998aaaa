"""What concerns the squad or is only described: burden, lagged association, availability, notes for young players."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.association.lag import lagged_association
from pipelines.measures.load.grid import Readings, day_grid
from pipelines.measures.load.youth import youth_notes
from pipelines.measures.problems.availability import availability
from pipelines.measures.problems.burden import injury_burden
from pipelines.stages.measure.body import checkin_rows, form_rows
from pipelines.stages.measure.groups import group_members
from pipelines.stages.measure.load import in_contract, recent
from schemas.core.load_body import ASSOCIATION, AVAILABILITY, BURDEN, YOUTH_NOTE
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    import duckdb

    from pipelines.measures.association.lag import Association
    from pipelines.measures.load.grid import DayGrid
    from schemas.academy import Academy

YEAR_DAYS, ASSOCIATION_DAYS, EFFORT_RUN_DAYS = 365, 180, 14
MOST_SQUAD_PLAYERS, MOST_GROUP_PLAYERS, MOST_SQUAD_REGIONS = 200, 60, 3
SEED = 6
"""Resampling starts from the same seed every night, and for each group: the same data give the same pages."""


def measure_squad_health(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write burden, association, availability and notes for young players; call it after load and body."""
    rng, groups = np.random.default_rng(SEED), group_members(con)
    with transaction(con):
        replace_table(con, BURDEN.name, in_contract(_burden(con, as_of, groups, rng), BURDEN))
        replace_table(con, ASSOCIATION.name, in_contract(_associations(con, as_of, groups, rng), ASSOCIATION))
        replace_table(con, AVAILABILITY.name, in_contract(_availability(con, as_of), AVAILABILITY))
        replace_table(con, YOUTH_NOTE.name, in_contract(_youth_notes(con, academy, as_of), YOUTH_NOTE))


_PLAYERS = "select player_id, agreed from player_consent order by player_id"
_TOLD = "select player_id, on_date from report_day where on_date <= ?"
_ABSENCES = "select player_id, began_on, ended_on, kind, region, onset from agreed_absence where began_on between ? and ?"
_TRAINING = "select player_id, minutes from agreed_training where on_date between ? and ?"


def _availability(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    told = frame(con, _TOLD, [as_of]).group_by("player_id").agg(last_told_on=pl.col("on_date").max())
    players = frame(con, _PLAYERS).join(told, on="player_id", how="left", maintain_order="left")
    return availability(players, frame(con, _ABSENCES, [date.min, as_of]), form_rows(con, as_of), as_of)


def _burden(con: duckdb.DuckDBPyConnection, as_of: date, groups: dict[str, list[str]], rng: np.random.Generator) -> pl.DataFrame:
    span = [recent(as_of, YEAR_DAYS), as_of]
    hours = frame(con, _TRAINING, span).group_by("player_id").agg(hours=pl.col("minutes").sum() / 60).sort("player_id")
    injuries = frame(con, _ABSENCES, span).filter(pl.col("kind") == "injury").with_columns(days=_days_lost(as_of))
    found = _slices("", hours, injuries, rng)
    for name, players in groups.items():
        theirs = pl.col("player_id").is_in(players)
        found += _slices(name, hours.filter(theirs), injuries.filter(theirs), np.random.default_rng(SEED))
    return pl.DataFrame(found, schema=BURDEN.polars_schema())


def _slices(group: str, hours: pl.DataFrame, injuries: pl.DataFrame, rng: np.random.Generator) -> list[dict[str, object]]:
    """Burden of these players: of all their injuries, of each region and of each mode of onset."""
    slices = [("all", "")]
    slices += [(kind, name) for kind in ("region", "onset") for name in sorted(injuries[kind].unique().to_list())]
    found = (_slice_burden(hours, injuries, kind, name, rng) for kind, name in slices)
    return [{"group_name": group, **row} for row in found if row]


def _days_lost(as_of: date) -> pl.Expr:
    """Days of an absence so far, first and last included."""
    last = pl.min_horizontal(pl.col("ended_on").fill_null(as_of), pl.lit(as_of))
    return ((last - pl.col("began_on")).dt.total_days() + 1).cast(pl.Float64)


def _slice_burden(
    hours: pl.DataFrame, injuries: pl.DataFrame, kind: str, name: str, rng: np.random.Generator
) -> dict[str, object] | None:
    chosen = injuries if kind == "all" else injuries.filter(pl.col(kind) == name)
    lost = chosen.group_by("player_id").agg(n=pl.len().cast(pl.Int64), days=pl.col("days").sum())
    squad = hours.join(lost, on="player_id", how="left", maintain_order="left").with_columns(pl.col("n", "days").fill_null(0))
    found = injury_burden(squad["n"].to_numpy(), squad["days"].to_numpy(), squad["hours"].to_numpy(), rng)
    return None if found is None else {"slice_kind": kind, "slice": name, **vars(found)}


_STIFF_LATELY = "select player_id, region from opened_stiffness where on_date between ? and ? order by player_id, region"
_LOAD = "select player_id, on_date, swings_all from load_day where on_date >= ?"


def _associations(
    con: duckdb.DuckDBPyConnection, as_of: date, groups: dict[str, list[str]], rng: np.random.Generator
) -> pl.DataFrame:
    first_on = recent(as_of, ASSOCIATION_DAYS)
    answers = checkin_rows(con, as_of).filter(pl.col("on_date") >= first_on)
    stiff = frame(con, _STIFF_LATELY, [first_on, as_of])
    if answers.is_empty() or stiff.is_empty():
        return pl.DataFrame(schema=ASSOCIATION.polars_schema())
    load = frame(con, _LOAD, [first_on]).with_columns(tens=pl.col("swings_all") / 10)
    grid = day_grid(answers["player_id"], first_on, as_of)
    tens = grid.spread(load, ("tens",))["tens"]
    some = np.sort(rng.permutation(len(grid.players))[:MOST_SQUAD_PLAYERS])
    rows = [_association(grid, tens, answers, region, some, rng) for region in _common_regions(stiff)]
    latest = stiff.unique().sort("player_id", "region")
    for player_id, region in latest.iter_rows():
        one = np.array([grid.players.index(player_id)])
        rows.append(_association(grid, tens, answers, region, one, rng) | {"player_id": player_id})
    for name, players in groups.items():
        own, theirs = np.random.default_rng(SEED), stiff.filter(pl.col("player_id").is_in(players))
        members = np.flatnonzero(np.isin(grid.players, players))
        some = np.sort(own.permutation(members)[:MOST_GROUP_PLAYERS])
        rows += [
            _association(grid, tens, answers, region, some, own) | {"group_name": name} for region in _common_regions(theirs)
        ]
    return pl.DataFrame(rows, schema=ASSOCIATION.polars_schema())


def _common_regions(stiff: pl.DataFrame) -> list[str]:
    """The regions that were reported most."""
    counted = stiff.group_by("region").len("n").sort("n", "region", descending=[True, False])
    return counted.head(MOST_SQUAD_REGIONS)["region"].to_list()


def _association(
    grid: DayGrid,
    load: Readings,
    answers: pl.DataFrame,
    region: str,
    rows: np.ndarray,
    rng: np.random.Generator,
) -> dict[str, object]:
    """Over these rows of the grid, as of everybody."""
    rating = grid.spread(answers, (f"stiff_{region}",))[f"stiff_{region}"]
    found: Association = lagged_association(_rows(load, rows), _rows(rating, rows), rng)
    told = {name: value for name, value in vars(found).items() if name != "lag_weights"}
    return {"group_name": "", "player_id": "", "region": region, **told}


def _rows(cells: Readings, rows: np.ndarray) -> Readings:
    return Readings(cells.value[rows], cells.known[rows])


_BORN = "select player_id, birth_year from player order by player_id"
_WEEKS = "select player_id, minutes, n_days_known, n_rest_days from load_week where week_starting = ?"
_SLEEP = "select player_id, sleep_week_h from agreed_answering"
_EFFORT_RUNS = "select player_id, first_on, last_on from full_effort_run where last_on >= ?"


def _young_players(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> pl.DataFrame:
    """Players who may be minors, with the last whole week, its sleep, and the longest run of full effort in two weeks."""
    rows = frame(con, _BORN).iter_rows()
    young = pl.DataFrame(
        [(player_id, as_of.year - year) for player_id, year in rows if academy.access.may_be_minor(year, as_of.year)],
        schema={"player_id": pl.String, "age_years": pl.Int64},
        orient="row",
    )
    last_week = as_of - timedelta(days=as_of.weekday() + 7)
    since = recent(as_of, EFFORT_RUN_DAYS)
    run = pl.col("last_on") - pl.max_horizontal("first_on", pl.lit(since))
    runs = frame(con, _EFFORT_RUNS, [since]).group_by("player_id").agg(full_effort_run=run.dt.total_days().max() + 1)
    for known in (frame(con, _WEEKS, [last_week]), frame(con, _SLEEP), runs):
        young = young.join(known, on="player_id", how="left", maintain_order="left")
    return young


def _youth_notes(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> pl.DataFrame:
    rows = []
    for player in _young_players(con, academy, as_of).iter_rows(named=True):
        whole_week = player["n_days_known"] == 7
        hours = player["minutes"] / 60 if player["minutes"] is not None else None
        rest = player["n_rest_days"] if whole_week else None
        notes = youth_notes(player["age_years"], hours, rest, player["sleep_week_h"], player["full_effort_run"])
        rows += [{"player_id": player["player_id"], **vars(note)} for note in notes]
    return pl.DataFrame(rows, schema=YOUTH_NOTE.polars_schema())
