"""What concerns the squad or is only described: burden, lagged association, availability, notes for young players."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.association.lag import lagged_association
from pipelines.measures.load.grid import Readings, day_grid
from pipelines.measures.load.youth import youth_notes
from pipelines.measures.problems.availability import availability
from pipelines.measures.problems.burden import injury_burden
from pipelines.stages.measure.body import agreed_rows, checkin_rows
from pipelines.stages.measure.load import in_contract, recent
from schemas.core.load_body import ASSOCIATION, AVAILABILITY, BURDEN, YOUTH_NOTE
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from pipelines.measures.association.lag import Association
    from pipelines.measures.load.grid import DayGrid
    from schemas.academy import Academy

YEAR_DAYS, ASSOCIATION_DAYS, OPEN_DAYS = 365, 180, 28
MOST_SQUAD_PLAYERS, MOST_SQUAD_REGIONS = 200, 3
SEED = 6
"""Resampling starts from the same seed every night: the same data give the same pages."""


def measure_squad_health(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write burden, association, availability and notes for young players; call it after load and body."""
    rng = np.random.default_rng(SEED)
    with transaction(con):
        replace_table(con, BURDEN.name, in_contract(_burden(con, as_of, rng), BURDEN))
        replace_table(con, ASSOCIATION.name, in_contract(_associations(con, as_of, rng), ASSOCIATION))
        replace_table(con, AVAILABILITY.name, in_contract(_availability(con, as_of), AVAILABILITY))
        replace_table(con, YOUTH_NOTE.name, in_contract(_youth_notes(con, academy, as_of), YOUTH_NOTE))


_TOLD = """
select player.player_id, coalesce(health_consent, false) as agreed, max(told.on_date) as last_told_on
from player
left join (
  select player_id, date as on_date from checkin union all select player_id, week_ending from problem_report
) as told on told.player_id = player.player_id and told.on_date <= ?
group by all
order by player.player_id
"""


def _availability(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    players = frame(con, _TOLD, [as_of])
    absences = agreed_rows(con, "absence", "player_id, began_on, ended_on", "began_on", as_of)
    forms = agreed_rows(con, "problem_report", "player_id, week_ending, participation, modified", "week_ending", as_of)
    return availability(players, absences, forms, as_of)


_HOURS = (
    "select player_id, sum(minutes) / 60 as hours from load_session where on_date between ? and ? group by 1 having hours > 0"
)
_INJURIES = """
select player_id, coalesce(region, 'not said') as region, coalesce(onset, 'not said') as onset,
  cast(least(coalesce(ended_on, $2), $2) - began_on + 1 as double) as days
from absence
where kind = 'injury' and began_on between $1 and $2 and player_id in (select player_id from player where health_consent)
"""


def _burden(con: duckdb.DuckDBPyConnection, as_of: date, rng: np.random.Generator) -> pl.DataFrame:
    agreed = frame(con, "select player_id from player where health_consent")
    span = [recent(as_of, YEAR_DAYS), as_of]
    hours = frame(con, _HOURS, span).join(agreed, on="player_id").sort("player_id")
    injuries = frame(con, _INJURIES, span)
    slices = [("all", "")]
    slices += [(kind, name) for kind in ("region", "onset") for name in sorted(injuries[kind].unique().to_list())]
    found = [_slice_burden(hours, injuries, kind, name, rng) for kind, name in slices]
    return pl.DataFrame([row for row in found if row], schema=BURDEN.polars_schema())


def _slice_burden(
    hours: pl.DataFrame, injuries: pl.DataFrame, kind: str, name: str, rng: np.random.Generator
) -> dict[str, object] | None:
    chosen = injuries if kind == "all" else injuries.filter(pl.col(kind) == name)
    lost = chosen.group_by("player_id").agg(n=pl.len().cast(pl.Int64), days=pl.col("days").sum())
    squad = hours.join(lost, on="player_id", how="left", maintain_order="left").with_columns(pl.col("n", "days").fill_null(0))
    found = injury_burden(squad["n"].to_numpy(), squad["days"].to_numpy(), squad["hours"].to_numpy(), rng)
    return None if found is None else {"slice_kind": kind, "slice": name, **vars(found)}


_STIFF_LATELY = """
select player_id, region from flag_candidate
where kind = 'body_stiff' and opens and on_date between ? and ?
order by 1, 2
"""


def _associations(con: duckdb.DuckDBPyConnection, as_of: date, rng: np.random.Generator) -> pl.DataFrame:
    first_on = recent(as_of, ASSOCIATION_DAYS)
    answers = checkin_rows(con, as_of).filter(pl.col("on_date") >= first_on)
    stiff = frame(con, _STIFF_LATELY, [first_on, as_of])
    if answers.is_empty() or stiff.is_empty():
        return pl.DataFrame(schema=ASSOCIATION.polars_schema())
    load = frame(con, "select player_id, on_date, swings_all / 10 as tens from load_day where on_date >= ?", [first_on])
    grid = day_grid(answers["player_id"], first_on, as_of)
    tens = grid.spread(load, ("tens",))["tens"]
    common = stiff.group_by("region").len("n").sort("n", "region", descending=[True, False]).head(MOST_SQUAD_REGIONS)
    some = np.sort(rng.permutation(len(grid.players))[:MOST_SQUAD_PLAYERS])
    rows = [_association(grid, tens, answers, region, some, "", rng) for region in common["region"]]
    latest = stiff.unique().sort("player_id", "region")
    for player_id, region in latest.iter_rows():
        one = np.array([grid.players.index(player_id)])
        rows.append(_association(grid, tens, answers, region, one, player_id, rng))
    return pl.DataFrame(rows, schema=ASSOCIATION.polars_schema())


def _association(
    grid: DayGrid,
    load: Readings,
    answers: pl.DataFrame,
    region: str,
    rows: np.ndarray,
    player_id: str,
    rng: np.random.Generator,
) -> dict[str, object]:
    rating = grid.spread(answers, (f"stiff_{region}",))[f"stiff_{region}"]
    found: Association = lagged_association(_rows(load, rows), _rows(rating, rows), rng)
    told = {name: value for name, value in vars(found).items() if name != "lag_weights"}
    return {"player_id": player_id, "region": region, **told}


def _rows(cells: Readings, rows: np.ndarray) -> Readings:
    return Readings(cells.value[rows], cells.known[rows])


_YOUNG = """
select player.player_id, year($1) - birth_year as age_years, load_week.minutes, load_week.n_days_known, load_week.n_rest_days,
  case when health_consent then answering.sleep_week_h end as sleep_week_h, effort_run.n_days as full_effort_run
from player
left join load_week on load_week.player_id = player.player_id
  and load_week.week_starting = date_trunc('week', $1) - interval 7 days
left join answering on answering.player_id = player.player_id
left join (
  select player_id, max(n_days) as n_days from (
    select player_id, count(*) as n_days from (
      select player_id, on_date, on_date - cast(row_number() over (partition by player_id order by on_date) as integer) as run
      from load_day where swings_full_effort > 0 and on_date between $1 - 13 and $1
    ) group by player_id, run
  ) group by player_id
) as effort_run on effort_run.player_id = player.player_id
where year($1) - birth_year < $2
order by player.player_id
"""


def _youth_notes(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> pl.DataFrame:
    young = frame(con, _YOUNG, [as_of, academy.access.minor_age])
    rows = []
    for player in young.iter_rows(named=True):
        whole_week = player["n_days_known"] == 7
        hours = player["minutes"] / 60 if player["minutes"] is not None else None
        rest = player["n_rest_days"] if whole_week else None
        notes = youth_notes(player["age_years"], hours, rest, player["sleep_week_h"], player["full_effort_run"])
        rows += [{"player_id": player["player_id"], **vars(note)} for note in notes]
    return pl.DataFrame(rows, schema=YOUTH_NOTE.polars_schema())
