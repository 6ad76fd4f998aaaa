"""What flags state of a change, in simulated squads: right on average over those that were raised.

``pytest -m benchmark -s tests/benchmarks/detection/test_stated.py``; the two constants were chosen on seeds 61 to 63.
"""

from __future__ import annotations

import datetime as dt
import sys

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import chart_candidates, players_judged
from pipelines.measures.flags.engine import AlertPolicy, flag_history
from pipelines.measures.summary import session_summary
from pipelines.measures.trend.assembly import trends
from schemas.core.summaries import SCATTER_METRICS, SUMMARY_METRICS
from tests.benchmarks.detection.makings import MAKINGS, START, Made, Truth, made

pytestmark = pytest.mark.benchmark

SQUADS = (("normal", 81), ("heavy tails", 82), ("normal", 83))


def _flags(squad: Made) -> pl.DataFrame:
    day = pl.col("started_at").dt.date()
    own = squad.sessions.select("session_id", on_date=day, device_id="device_id", session_kind="kind")
    ratio = (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio")
    shots = squad.shots.join(own, on="session_id", maintain_order="left").with_columns(
        ratio, club_group=pl.lit("driver"), ball=pl.lit("premium"), indoors=pl.lit(value=True)
    )
    missing = [pl.lit(None, dtype=pl.Float64).alias(name) for name in SUMMARY_METRICS if name not in shots.columns]
    summary = session_summary(shots.with_columns(missing), tuple(SUMMARY_METRICS), SCATTER_METRICS)
    found = trends(summary, {truth.player_id: truth.birth_year for truth in squad.truths})
    last = START + dt.timedelta(days=squad.making.n_days)
    return flag_history(chart_candidates(found.points, players_judged(found.points)), last, AlertPolicy(0.10, 100_000)).flags


def _true_change(truth: Truth, day: int) -> float:
    """Level on the day less the mean level before anything happened [%]."""
    begin = truth.onset - 84 if truth.event == "plateau" else truth.onset if truth.event else day
    return float(100.0 * (truth.level[day] - truth.level[: max(min(begin, day), 1)].mean()))


def test_the_stated_change_is_right_on_average() -> None:
    rows = []
    for name, seed in SQUADS:
        squad = made(MAKINGS[name], seed)
        truths = {truth.player_id: truth for truth in squad.truths}
        for flag in _flags(squad).filter(pl.col("metric") == "club_speed_mps").iter_rows(named=True):
            day = ((flag["alerted_on"] or flag["raised_on"]) - START).days
            likely = next(float(reason.partition("=")[2]) for reason in flag["reasons"] if reason.startswith("likely="))
            seen = 100.0 * np.log(flag["value"] / flag["baseline"])
            rows.append((flag["kind"], flag["level"], likely, seen, _true_change(truths[flag["player_id"]], day)))
    table = pl.DataFrame(rows, schema=["kind", "level", "likely", "seen", "true"], orient="row")
    way = pl.when(pl.col("kind") == "speed_rise").then(1.0).otherwise(-1.0)
    off = [(way * (pl.col(name) - pl.col("true"))).mean().alias(f"{name}_off") for name in ("likely", "seen")]
    sys.stdout.write(f"\n{table.group_by('kind', 'level').agg(pl.len(), *off).sort('kind', 'level')}\n")
    (all_flags,) = table.select(pl.len(), *off).to_dicts()
    sys.stdout.write(f"{all_flags}\n")
    assert abs(all_flags["likely_off"]) < 0.15
    assert abs(all_flags["likely_off"]) < 0.5 * all_flags["seen_off"]
