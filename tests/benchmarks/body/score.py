"""A simulated squad through the stages of a night, and its flags against the truth."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.stages.measure.body import measure_body
from pipelines.stages.measure.flags import measure_flags
from pipelines.stages.measure.load import measure_load
from pipelines.stages.measure.overuse import measure_overuse
from schemas.academy import Academy, Alerts
from tests.benchmarks.body.squad import BREAK_DAYS, START, BodySquad, Truth
from warehouse.connection import frame, insert_frame, open_warehouse
from warehouse.flags import flag_rows

if TYPE_CHECKING:
    from pathlib import Path

DAYS_PER_MONTH = 365.25 / 12
FACTS = frozenset({"load_jump", "load_flat"})
"""Kinds that are facts about what was done: they are held against their definition, not against intent."""


@dataclass(frozen=True)
class Found:
    """Flags and candidates of a squad."""

    flags: pl.DataFrame
    candidates: pl.DataFrame
    load: pl.DataFrame


def found(squad: BodySquad, folder: Path) -> Found:
    """Load, body, overuse and flags of a squad, with an unlimited alert budget."""
    academy = replace(Academy("Simulated", "UTC"), alerts=Alerts(per_week=100_000))
    as_of = START + dt.timedelta(days=squad.n_days - 1)
    with open_warehouse(folder / "academy.duckdb") as con:
        con.execute("insert into academy values ('Simulated', 'UTC')").fetchall()
        for table, rows in (("player", squad.players), ("session", squad.sessions), ("checkin", squad.checkins)):
            insert_frame(con, table, rows.with_columns(file_id=pl.lit("f"), line=pl.lit(1)))
        for stage in (measure_load, measure_body, measure_overuse, measure_flags):
            stage(con, academy, as_of)
        load = frame(con, "select player_id, on_date, swings_all from load_day where swings_all is not null")
        return Found(flag_rows(con), frame(con, "select * from flag_candidate"), load)


@dataclass(frozen=True)
class Score:
    """How one kind of event was found."""

    n_events: int
    recall: float
    recall_with_lead: float
    precision: float
    median_lead: float
    false_per_month: float
    recall_interval: tuple[float, float]


def stiffness_score(alarms: pl.DataFrame, squad: BodySquad, seed: int = 1) -> Score:
    """Alarms (player_id, region, on_date: first day of each episode) against breaks ten days after the first sign.

    A break counts as found with an alarm of the right region from the first sign to the day of the break; alarms of that region
    until three weeks after are not false; neither are those of an overuse story.
    """
    truths = {truth.player_id: truth for truth in squad.truths}
    index = {player: number for number, player in enumerate(truths)}
    events = np.array([truth.event == "stiffness" for truth in squad.truths])
    lead, false = np.full(events.size, np.nan), np.zeros(events.size)
    for row in alarms.sort("on_date").iter_rows(named=True):
        truth, number = truths[row["player_id"]], index[row["player_id"]]
        since = (row["on_date"] - START).days - truth.onset
        mine = truth.event in {"stiffness", "overuse"} and row["region"] == truth.region
        if mine and 0 <= since <= BREAK_DAYS and events[number] and np.isnan(lead[number]):
            lead[number] = BREAK_DAYS - since
        elif not (mine and 0 <= since <= BREAK_DAYS + 21):
            false[number] += 1
    hit = np.isfinite(lead) & events
    drawn = np.random.default_rng(seed).integers(0, events.size, (500, events.size))
    samples = [hit[rows].sum() / max(events[rows].sum(), 1) for rows in drawn]
    low, high = np.quantile(samples, (0.05, 0.95))
    months = events.size * squad.n_days / DAYS_PER_MONTH
    return Score(
        int(events.sum()),
        float(hit.sum() / events.sum()),
        float((hit & (np.nan_to_num(lead, nan=-1) >= 4)).sum() / events.sum()),
        float(hit.sum() / max(hit.sum() + false.sum(), 1)),
        float(np.median(lead[hit])) if hit.any() else float("nan"),
        float(false.sum() / months),
        (float(low), float(high)),
    )


def alarms_of(flags: pl.DataFrame, kind: str, level: str) -> pl.DataFrame:
    """Days on which flags of a kind reached a level."""
    day = "raised_on" if level == "notice" else "alerted_on"
    return flags.filter(pl.col("kind") == kind, pl.col(day).is_not_null()).select("player_id", "region", on_date=day)


def alarms_at(candidates: pl.DataFrame, p: float) -> pl.DataFrame:
    """First nights of episodes (21 days apart) on which the p-value, all regions allowed for, is at most ``p``."""
    rows = candidates.filter(
        pl.col("kind") == "body_stiff", pl.col("p_value") * pl.col("n_streams") <= p, pl.col("value") - pl.col("baseline") >= 1
    )
    ordered = rows.sort("player_id", "region", "on_date")
    gap = pl.col("on_date").diff().over("player_id", "region").dt.total_days()
    return ordered.filter(gap.is_null() | (gap >= 21)).select("player_id", "region", "on_date")


def false_alerts(flags: pl.DataFrame, squad: BodySquad) -> pl.DataFrame:
    """Alerts on the body that no event made true; facts about load are left out."""
    truths = {truth.player_id: truth for truth in squad.truths}
    alerts = flags.filter(pl.col("alerted_on").is_not_null(), ~pl.col("kind").is_in(list(FACTS)))
    rows = [row for row in alerts.iter_rows(named=True) if not _made_true(row, truths[row["player_id"]])]
    return pl.DataFrame(
        [{"player_id": row["player_id"], "kind": row["kind"], "decoy": truths[row["player_id"]].decoy} for row in rows],
        schema={"player_id": pl.String, "kind": pl.String, "decoy": pl.String},
    )


def _made_true(row: dict[str, object], truth: Truth) -> bool:
    since = (row["alerted_on"] - START).days - truth.onset  # type: ignore[operator] # a day
    if truth.event == "overuse":
        return 0 <= since <= 45 and row["region"] in {"", truth.region}
    return truth.event == "stiffness" and 0 <= since <= BREAK_DAYS + 21 and row["region"] == truth.region
