"""What the measures of a night say of squads that were made apart, and how it is counted against what is true of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipelines.measures.body.items import ITEMS, body_items
from pipelines.measures.flags.answer_rules import answer_candidates
from pipelines.measures.flags.body_rules import body_rises
from pipelines.measures.flags.chart_rules import chart_candidates, players_judged, stall_candidates
from pipelines.measures.flags.device_rules import device_candidates
from pipelines.measures.flags.engine import flag_history
from pipelines.measures.flags.state import AlertPolicy
from pipelines.measures.load.grid import day_grid, days_marked
from pipelines.measures.load.windows import days_known
from pipelines.measures.summary import session_summary
from pipelines.measures.trend.assembly import Trends, trends
from schemas.core.summaries import SCATTER_METRICS, SUMMARY_METRICS
from tests.benchmarks.detection.squads_apart import BEGIN, REGIONS

UNLIMITED = 100_000
LEARNING_DAYS, AFTER_DAYS, FOUND_DAYS, DECOY_DAYS, STEP_DAYS = 60, 30, 90, 30, 14
DAYS_PER_MONTH = 30.44

Frames = dict[str, pl.DataFrame]

FOUND_BY: dict[str, tuple[str, ...]] = {
    "drift": ("speed_fall", "speed_rise"),
    "plateau": ("speed_stall",),
    "scatter_doubled": ("scatter_rise",),
    "wild": ("wild_rise", "scatter_rise"),
    "stiffness": ("body_stiff",),
    "stiffness or silence": ("body_stiff", "answers_fewer"),
}
DECOY_KINDS: dict[str, tuple[str, ...]] = {
    "decoy_odd_session": ("speed_fall", "speed_rise"),
    "decoy_absence": ("speed_fall", "speed_rise"),
    "decoy_hot_month": ("speed_fall", "speed_rise"),
    "decoy_busy_week": ("speed_fall", "speed_rise", "scatter_rise", "body_stiff"),
    "decoy_sore_once": ("body_stiff",),
}


@dataclass(frozen=True)
class Night:
    """Everything said of one squad.

    Attributes
    ----------
    frames : dict
        The squad.
    trends : Trends
    alerts : polars.DataFrame
        player_id, kind, region, day (from the first on which it was an alert), is_true.
    n_days, first_day : int
        Alerts count from the first day on.
    """

    frames: Frames
    trends: Trends
    alerts: pl.DataFrame
    n_days: int
    first_day: int


def told_of(frames: Frames, first_day: int = LEARNING_DAYS) -> Night:
    """The night after the last day of a squad with shots."""
    players = frames["players"]
    born = dict(players.select("player_id", "birth_year").iter_rows()) if "birth_year" in players.columns else {}
    found = trends(_summaries(frames), born)
    rows = [
        chart_candidates(found.points, players_judged(found.points)),
        stall_candidates(found.points, players_judged(found.points)),
        device_candidates(found.device_shifts),
    ]
    if "checkins" in frames:
        rows.append(_body_rows(frames["checkins"], frames["sessions"]))
    last: dt.date = frames["levels"]["on_date"].max()  # type: ignore[assignment] # a date column, not empty
    flags = flag_history(pl.concat(rows), last, AlertPolicy(0.10, UNLIMITED)).flags
    n_days = (last - BEGIN).days + 1
    return Night(frames, found, _judged(flags, frames), n_days, first_day)


def _summaries(frames: Frames) -> pl.DataFrame:
    own = frames["sessions"].select("session_id", "on_date", "device_id", pl.col("kind").alias("session_kind"))
    ratio = (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio")
    shots = frames["shots"].drop("_wild").join(own, on="session_id", maintain_order="left")
    shots = shots.with_columns(ratio, club_group=pl.lit("driver"), ball=pl.lit("premium"), indoors=pl.lit(value=True))
    missing = [pl.lit(None, dtype=pl.Float64).alias(name) for name in SUMMARY_METRICS if name not in shots.columns]
    return session_summary(shots.with_columns(missing), tuple(SUMMARY_METRICS), SCATTER_METRICS)


def _body_rows(checkins: pl.DataFrame, sessions: pl.DataFrame) -> pl.DataFrame:
    answers = checkins.rename({"date": "on_date"})
    missing = [pl.lit(None, dtype=pl.Float64).alias(name) for name in ITEMS if name not in answers.columns]
    answers = answers.with_columns(missing).sort("player_id", "on_date")
    grid = day_grid(answers["player_id"], answers["on_date"].min(), answers["on_date"].max())  # type: ignore[arg-type] # dates
    n_items = np.full(grid.shape, float(len(REGIONS)))
    answered, practised = days_marked(answers, grid), days_marked(sessions, grid)
    n_players = np.count_nonzero(days_known(answered, 7) > 0, axis=0)
    stiff = [body_rises(item, grid, n_items, n_players) for item in body_items(answers, grid) if item.region]
    return pl.concat([*stiff, answer_candidates(answered, practised, grid)])


def _judged(flags: pl.DataFrame, frames: Frames) -> pl.DataFrame:
    events = _events(frames)
    alerts = (
        flags.filter(pl.col("player_id") != "", pl.col("alerted_on").is_not_null())
        .select("player_id", "kind", "region", day=(pl.col("alerted_on") - BEGIN).dt.total_days())
        .join(events, on="player_id", how="left", maintain_order="left")
    )
    since = pl.col("day") >= pl.col("began")
    fits_kind = pl.when(pl.col("amount") < 0).then(pl.lit("speed_fall")).otherwise(pl.lit("speed_rise"))
    is_true = (
        pl.when((pl.col("event") == "drift") & (pl.col("amount") > 0) & (pl.col("kind") == "speed_stall"))
        .then(pl.col("day") >= pl.col("ended"))  # 3 to 5 % faster within weeks, and then no faster
        .when(pl.col("event").is_in(["drift", "gain"]))
        .then(since & (pl.col("kind") == fits_kind))
        .when(pl.col("event").is_in(["plateau", "grower"]))
        .then((pl.col("kind") == "speed_rise") | (since & (pl.col("event") == "plateau") & (pl.col("kind") == "speed_stall")))
        .when(pl.col("event") == "scatter_doubled")
        .then(since & pl.col("kind").is_in(["scatter_rise", "wild_rise"]))
        .when(pl.col("event") == "wild")
        .then(since & pl.col("kind").is_in(["scatter_rise", "wild_rise"]))
        .when(pl.col("event") == "stiffness")
        .then(
            since
            & (
                ((pl.col("kind") == "body_stiff") & (pl.col("region") == pl.col("of_region")))
                | (pl.col("kind") == "answers_fewer")
            )
            & (pl.col("day") <= pl.col("ended") + AFTER_DAYS)
        )
        .otherwise(pl.lit(value=False))
    )
    return alerts.with_columns(is_true.fill_null(value=False).alias("is_true"))


def _events(frames: Frames) -> pl.DataFrame:
    """event, began, ended (days), amount, of_region of each player; null where there is none."""
    events = frames["events"] if "events" in frames else pl.DataFrame(schema={"player_id": pl.String})
    if "region" not in events.columns:
        events = events.with_columns(region=pl.lit(""))
    return events.select(
        "player_id",
        event="kind",
        began=(pl.col("began_on") - BEGIN).dt.total_days(),
        ended=(pl.col("ended_on") - BEGIN).dt.total_days(),
        amount="amount",
        of_region="region",
    )


def false_per_month(night: Night, body: bool = True) -> float:
    """False alerts a player-month, outside events (start to 30 days after their end) and after the learning."""
    players = night.frames["players"].select("player_id").join(_events(night.frames), on="player_id", how="left")
    months = 0.0
    for row in players.iter_rows(named=True):
        days = np.arange(night.first_day, night.n_days)
        began, ended = (night.n_days, 0) if row["event"] is None else (row["began"], row["ended"] + AFTER_DAYS)
        months += float(((days < began) | (days > ended)).sum()) / DAYS_PER_MONTH
    outside = pl.col("event").is_null() | (pl.col("day") < pl.col("began")) | (pl.col("day") > pl.col("ended") + AFTER_DAYS)
    counted = night.alerts.filter(~pl.col("is_true"), pl.col("day") >= night.first_day, outside)
    return counted.filter(pl.lit(body) | ~pl.col("kind").is_in(["body_stiff", "answers_fewer"])).height / months


@dataclass(frozen=True)
class Found:
    """How one event was found: shares of players, and days from its start."""

    n: int
    recall: float
    precision: float
    f1: float
    median_delay: float


def found(night: Night, event: str, since: int = 0) -> Found:
    """Between its start and 90 days after its end; precision over the kinds of all players.

    ``since``: events that began earlier are left out. Alerts before the first day do not count, so an event that began before it
    may have been told already.
    """
    kinds, event = FOUND_BY[event], event.split(" ", maxsplit=1)[0]
    events = _events(night.frames).filter(pl.col("event") == event, pl.col("began") >= since)
    mine = night.alerts.filter(pl.col("kind").is_in(kinds), pl.col("day") >= night.first_day)
    near = pl.col("day") <= pl.col("ended") + FOUND_DAYS
    at = mine.filter(pl.col("event") == event, "is_true", near, pl.col("began") >= since)
    first = at.group_by("player_id").agg((pl.col("day") - pl.col("began")).min().alias("delay"))
    recall = first.height / max(events.height, 1)
    true = mine.filter("is_true")["player_id"].n_unique()
    false = mine.filter(~pl.col("is_true")).height
    precision = true / (true + false) if true + false else float("nan")
    f1 = 2.0 * recall * precision / (recall + precision) if recall else 0.0
    delay = float(first["delay"].median()) if first.height else float("nan")  # type: ignore[arg-type] # a number
    return Found(events.height, recall, precision, f1, delay)


def decoys(night: Night) -> dict[str, tuple[int, int]]:
    """By decoy: players with an alert that fits it within 30 days, and how many players."""
    events = _events(night.frames)
    shares = {}
    for decoy, kinds in DECOY_KINDS.items():
        near = night.alerts.filter(
            pl.col("event") == decoy,
            pl.col("kind").is_in(kinds),
            pl.col("day") >= pl.col("began"),
            pl.col("day") <= pl.col("ended") + DECOY_DAYS,
        )
        shares[decoy] = (near["player_id"].n_unique(), events.filter(pl.col("event") == decoy).height)
    return shares


def covered(night: Night, after_step: bool = False) -> tuple[float, float, int]:
    """Shares of 90 % intervals of level and of 28-day change that hold the truth, and how many points.

    ``after_step``: points of club speed in the 14 days after a step of scatter or of wild shots, with which speed does not move;
    else all after the learning.
    """
    truth = night.frames["levels"].select("player_id", "on_date", true=100.0 * pl.col("true_speed_mps").log())
    points = _beside_truth(night, "club_speed_mps", truth)
    kept = points.filter(pl.col("day") >= max(night.first_day, LEARNING_DAYS))
    if after_step:
        kept = points.filter(pl.col("event").is_in(["scatter_doubled", "wild"]), _just_after())
    return _held(kept)


def scatter_covered(night: Night) -> tuple[float, float, int]:
    """The same of left-right scatter itself, in the 14 days after it doubled.

    What is true of a pattern is told in degrees; in the unit of the level it is known up to a constant of the player, which is
    the mean of the sessions before.
    """
    truth = night.frames["levels"].select("player_id", "on_date", true=100.0 * pl.col("true_scatter_deg").log())
    points = _beside_truth(night, "scatter_side_m", truth).filter(pl.col("event") == "scatter_doubled")
    before = points.filter(pl.col("day") < pl.col("began")).group_by("player_id", maintain_order=True)
    constant = before.agg(constant=(pl.col("x") - pl.col("true")).mean())
    placed = points.join(constant, on="player_id", maintain_order="left")
    moved = (pl.col(name) + pl.col("constant") for name in ("true", "true_before"))
    return _held(placed.with_columns(moved).filter(_just_after()))


def _just_after() -> pl.Expr:
    since = pl.col("day") - pl.col("began")
    return (since >= 0) & (since < STEP_DAYS)


def _beside_truth(night: Night, metric: str, truth: pl.DataFrame) -> pl.DataFrame:
    """Points of a metric with its true level, that of 28 days before, and the event of the player."""
    before = truth.select("player_id", (pl.col("on_date") + pl.duration(days=28)).alias("on_date"), true_before="true")
    return (
        night.trends.points.filter(pl.col("metric") == metric)
        .join(truth, on=["player_id", "on_date"], maintain_order="left")
        .join(before, on=["player_id", "on_date"], how="left", maintain_order="left")
        .join(_events(night.frames), on="player_id", how="left", maintain_order="left")
        .with_columns(day=(pl.col("on_date") - BEGIN).dt.total_days())
    )


def _held(kept: pl.DataFrame) -> tuple[float, float, int]:
    level = (pl.col("level") - pl.col("true")).abs() <= pl.col("level_half")
    change = (pl.col("change_28") - (pl.col("true") - pl.col("true_before"))).abs() <= pl.col("change_half")
    shares = kept.select(level.mean().alias("level"), change.mean().alias("change"))
    return float(shares["level"][0] or 0.0), float(shares["change"][0] or 0.0), kept.height
