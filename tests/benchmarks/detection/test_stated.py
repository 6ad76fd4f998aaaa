"""What flags state of a change, in simulated squads: right on average over those that were raised.

``pytest -m benchmark -s tests/benchmarks/detection/test_stated.py``; the two constants were chosen on seeds 61 to 63, for speed;
that of scatter on 64 and 65. A player's first flag of speed counts: who has lasted at a new level is told of from that level on.
"""

from __future__ import annotations

import datetime as dt
import sys
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import chart_candidates, players_judged
from pipelines.measures.flags.engine import FlagHistory, flag_history
from pipelines.measures.flags.state import AlertPolicy
from pipelines.measures.flags.stated import HALVED_AFTER, share_still_likely
from pipelines.measures.summary import session_summary
from pipelines.measures.trend.assembly import trends
from schemas.core.summaries import SCATTER_METRICS, SUMMARY_METRICS
from schemas.trend_metrics import TREND_METRICS
from tests.benchmarks.detection.makings import MAKINGS, START, Made, Truth, made

pytestmark = pytest.mark.benchmark

SQUADS = (
    *(("normal", 81), ("heavy tails", 82), ("normal", 83)),
    *(("normal", 3701), ("heavy tails", 3702), ("normal", 3703), ("normal", 3704), ("heavy tails", 3705)),
    ("bad days skipped", 3706),
)
"""Of three squads alone the mean of 200 flags is uncertain by .04, more than half of what it must keep below."""
PATTERN_SQUADS = (("normal", 84), ("heavy tails", 85))
PATTERNS = ("", "", "", "", "", "", "scatter", "scatter", "aim", "narrow")
"""Tenths: left-right scatter doubled, 8 m to the right, left-right scatter six tenths of what it was."""

AIMED_M, NARROWED, M_A_MPS = 8.0, 0.6, 3.25 * 1.45
"""The last: carry by club speed, as the makings have it."""


def _flags(squad: Made) -> pl.DataFrame:
    return _told(squad)[0].flags


def _told(squad: Made) -> tuple[FlagHistory, pl.DataFrame]:
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
    rows = chart_candidates(found.points, players_judged(found.points))
    return flag_history(rows, last, AlertPolicy(0.10, 100_000)), found.points


def first_of_players(flags: pl.DataFrame) -> pl.DataFrame:
    return flags.sort("raised_on", "flag_id").unique("player_id", keep="first", maintain_order=True)


def _true_change(truth: Truth, day: int) -> float:
    """Level on the day less the mean level before anything happened [%]."""
    begin = truth.onset - 84 if truth.event == "plateau" else truth.onset if truth.event else day
    return float(100.0 * (truth.level[day] - truth.level[: max(min(begin, day), 1)].mean()))


def test_the_stated_change_is_right_on_average() -> None:
    rows = []
    for name, seed in SQUADS:
        squad = made(MAKINGS[name], seed)
        truths = {truth.player_id: truth for truth in squad.truths}
        for flag in first_of_players(_flags(squad).filter(pl.col("metric") == "club_speed_mps")).iter_rows(named=True):
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


STANDING_SQUADS = (("normal", 3911), ("heavy tails", 3912), ("bad days skipped", 3913), ("juniors", 3914), ("irregular", 3915))
STANDING_AFTER = (0, 1, 2, 3, 4, 6, 8)
"""Sessions since a flag was raised, while it is an open notice."""


def _standing(squad: Made) -> list[tuple[object, ...]]:
    """Kind, sessions since, what is said in the direction of the change, what was said on the first day, and what is true."""
    found, points = _told(squad)
    truths = {truth.player_id: truth for truth in squad.truths}
    raised = found.events.filter(pl.col("event") == "raised").select("flag_id", "metric", first="reasons")
    flags = found.flags.drop("metric").join(raised, on="flag_id").sort("raised_on", "flag_id")
    speed = first_of_players(flags.filter(pl.col("metric") == "club_speed_mps"))
    days = {key: sorted(set(rows["on_date"])) for key, rows in points.group_by("metric", "player_id")}
    rows = []
    for flag in pl.concat([speed, flags.filter(pl.col("metric") == "scatter_side_m")]).iter_rows(named=True):
        truth, metric = truths[flag["player_id"]], flag["metric"]
        reasons = dict(reason.partition("=")[::2] for reason in flag["first"])
        way = -1.0 if float(reasons["beyond_usual"]) < 0 else 1.0
        until = min(one for one in (flag["alerted_on"], flag["closed_on"], dt.date.max) if one is not None)
        since = [on for on in days[metric, flag["player_id"]] if flag["raised_on"] <= on < until]
        for n in STANDING_AFTER[: sum(n < len(since) for n in STANDING_AFTER)]:
            day = (since[n] - START).days
            true = _true_change(truth, day) if metric == "club_speed_mps" else _true_of_pattern(truth, metric, day)
            rows.append((flag["kind"], n, way * float(reasons["likely"]), way * true))
    table = pl.DataFrame(rows, schema=["kind", "n", "first", "true"], orient="row")
    share = share_still_likely(pl.col("kind"), pl.col("n")).fill_null(1.0)
    return table.with_columns(said=share * pl.col("first")).select("kind", "n", "said", "first", "true").rows()


def test_of_notices_that_stand_what_is_still_called_likely_is_nearer_than_what_was_on_the_first_day() -> None:
    rows = [row for name, seed in STANDING_SQUADS for row in _standing(made(MAKINGS[name], seed))]
    table = pl.DataFrame(rows, schema=["kind", "n", "said", "first", "true"], orient="row")
    means = table.group_by("kind", "n").agg(pl.len(), pl.col("said", "first", "true").mean()).sort("kind", "n")
    with pl.Config(tbl_rows=40):
        sys.stdout.write(f"\n{means}\n")
    later = means.filter(pl.col("kind").is_in(list(HALVED_AFTER)), pl.col("n") >= 2, pl.col("len") >= 30)
    off = (pl.col("said") - pl.col("true")).abs()
    assert later.height >= 6
    assert later.filter(off >= (pl.col("first") - pl.col("true")).abs()).is_empty()
    unit = pl.when(pl.col("kind") == "speed_fall").then(1.0).otherwise(16.0)
    assert later.filter(off > 0.3 * unit).is_empty()


def _moved_patterns(squad: Made) -> Made:
    truths = squad.truths
    own = pl.DataFrame(
        {
            "player_id": [one.player_id for one in truths],
            "on": [one.onset_on for one in truths],
            "event": [one.event for one in truths],
        }
    )
    shots = squad.shots.join(own, on="player_id", maintain_order="left")
    since = pl.col("struck_at").dt.date() >= pl.col("on")
    offline = (
        pl.when(since & (pl.col("event") == "aim"))
        .then(pl.col("offline_m") + AIMED_M)
        .when(since & (pl.col("event") == "narrow"))
        .then(pl.col("offline_m") * NARROWED)
        .otherwise("offline_m")
    )
    return replace(squad, shots=shots.with_columns(offline.alias("offline_m")).drop("on", "event"))


def _true_of_pattern(truth: Truth, metric: str, day: int) -> float:
    """Per cent (as 100 times a logarithm) of scatter, degrees of aim."""
    if day < truth.onset:
        return 0.0
    if metric == "aim_deg":
        return float(np.degrees(np.arctan(AIMED_M / (M_A_MPS * truth.base)))) if truth.event == "aim" else 0.0
    times = {"scatter": 2.0, "narrow": NARROWED}.get(truth.event, 1.0) if metric == "scatter_side_m" else 1.0
    return float(100.0 * np.log(times))


def test_the_stated_change_of_scatter_and_aim_is_nearer_than_the_one_seen() -> None:
    rows = []
    for name, seed in PATTERN_SQUADS:
        squad = _moved_patterns(made(MAKINGS[name], seed, events=PATTERNS))
        truths = {truth.player_id: truth for truth in squad.truths}
        for flag in (
            _flags(squad).filter(pl.col("metric").is_in(["scatter_side_m", "scatter_long_m", "aim_deg"])).iter_rows(named=True)
        ):
            day = ((flag["alerted_on"] or flag["raised_on"]) - START).days
            likely = next(float(reason.partition("=")[2]) for reason in flag["reasons"] if reason.startswith("likely="))
            relative = TREND_METRICS[flag["metric"]].is_relative
            seen = 100.0 * np.log(flag["value"] / flag["baseline"]) if relative else flag["value"] - flag["baseline"]
            true = _true_of_pattern(truths[flag["player_id"]], flag["metric"], day)
            rows.append((flag["metric"], flag["kind"], flag["level"], likely, seen, true))
    table = pl.DataFrame(rows, schema=["metric", "kind", "level", "likely", "seen", "true"], orient="row")
    way = pl.when(pl.col("seen") < 0).then(-1.0).otherwise(1.0)
    off = [(way * (pl.col(name) - pl.col("true"))).mean().alias(f"{name}_off") for name in ("likely", "seen")]
    grouped = (
        table.group_by("metric", "kind", "level")
        .agg(pl.len(), *off, (way * pl.col("true")).mean())
        .sort("metric", "kind", "level")
    )
    with pl.Config(tbl_rows=30):
        sys.stdout.write(f"\n{grouped}\n")
    of_metric = table.group_by("metric").agg(*off)
    sys.stdout.write(f"{of_metric.sort('metric')}\n")
    of_each = of_metric.filter((pl.col("likely_off").abs() > 0.5 * pl.col("seen_off").abs()) & (pl.col("metric") != "aim_deg"))
    assert of_each.is_empty()
    assert of_metric.filter(pl.col("likely_off").abs() > pl.col("seen_off").abs()).is_empty()


WILD_SQUAD, TRUE_WILD_POINTS = ("normal", 86), 2.8
"""Of 3 % of shots from a part three times as wide 1.8 % are counted as wild, of 15 % of them 4.6 %."""


def test_the_stated_change_of_wild_shots_is_the_one_seen_where_it_is_an_alert() -> None:
    squad = made(MAKINGS[WILD_SQUAD[0]], WILD_SQUAD[1], events=("", "wild"))
    onset = {truth.player_id: START + dt.timedelta(days=truth.onset) for truth in squad.truths if truth.event == "wild"}
    alerts = _flags(squad).filter(pl.col("kind") == "wild_rise", pl.col("level") == "alert")
    true = [row for row in alerts.iter_rows(named=True) if row["alerted_on"] > onset.get(row["player_id"], dt.date.max)]
    seen = np.mean([row["value"] - row["baseline"] for row in true])
    sys.stdout.write(f"\n{len(true)} alerts of wild shots: {seen:.2f} points seen, {TRUE_WILD_POINTS} true\n")
    assert len(true) > 50
    assert abs(seen - TRUE_WILD_POINTS) < 0.25 * TRUE_WILD_POINTS
    assert not any(reason.startswith("likely") for row in true for reason in row["reasons"])
