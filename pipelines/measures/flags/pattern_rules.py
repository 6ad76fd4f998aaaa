"""Candidates of ``problem_report`` and ``overuse_pattern``: the weekly form, and several signs of one player together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.body.answering import week_mean
from pipelines.measures.flags.body_rules import ended
from pipelines.measures.flags.candidates import candidates
from pipelines.measures.load.grid import Truths, readings
from pipelines.measures.load.windows import WEEK_DAYS

if TYPE_CHECKING:
    from pipelines.measures.body.items import BodyItem
    from pipelines.measures.load.grid import DayGrid

STAYS_WEEKS = 3
JUMP_COUNTS_DAYS = 14
STIFF_COUNTS_DAYS = 7
SPEED_COUNTS_DAYS = 21
SLEEP_COUNTS_DAYS = 3
SHORT_SLEEP_H, SHORTER_THAN_NORMAL_H = 7.0, 0.75
"""Own choices: how long a sign counts as present, and what short sleep is: a week's mean, of at least 4 nights, below 7 h and
three quarters of an hour below the player's own normal."""


def problem_reports(scored: pl.DataFrame) -> pl.DataFrame:
    """Candidates of ``problem_report``: a region whose weekly form is substantial, or that stays for three forms in a row.

    Parameters
    ----------
    scored : polars.DataFrame
        player_id, week_ending, region, score, is_problem, is_substantial, onset.

    Returns
    -------
    polars.DataFrame
        One row per form and region with a problem, and one on the first form without it; value: score; n: forms in a row.

    Notes
    -----
    The night is the last day of the form's week. Levels and persistence only: a difference between two weeks of one player is
    within the error of the form (16 points or more).

    Source: [Clarsen2020] (values second-hand)
    Checked: tests/unit/test_pattern_rules.py
    """
    weeks = scored.select("player_id", "week_ending").unique()
    regions = scored.filter("is_problem").select("player_id", "region").unique()
    forms = (
        weeks.join(regions, on="player_id")
        .join(
            scored.select("player_id", "week_ending", "region", "score", "is_problem", "is_substantial", "onset"),
            on=["player_id", "week_ending", "region"],
            how="left",
        )
        .with_columns(pl.col("is_problem").fill_null(value=False))
        .sort("player_id", "region", "week_ending")
    )
    stream = ("player_id", "region")
    broken = (~pl.col("is_problem")).cum_sum().over(stream)
    run = pl.col("is_problem").cast(pl.Int64).cum_sum().over(*stream, broken)
    was_there = pl.col("is_problem").shift(1).over(stream).fill_null(value=False)
    substantial = pl.col("is_substantial").fill_null(value=False)
    spoken = forms.with_columns(run=run, substantial=substantial, was_there=was_there).filter(
        pl.col("is_problem") | pl.col("was_there")
    )
    opens = pl.col("substantial") | (pl.col("run") >= STAYS_WEEKS)
    return candidates(
        spoken.select(
            "player_id",
            pl.col("week_ending").alias("on_date"),
            pl.lit("problem_report").alias("kind"),
            "region",
            (pl.col("is_problem") & opens).alias("opens"),
            pl.col("is_problem").alias("holds"),
            pl.col("substantial").alias("certain"),
            pl.col("score").fill_null(0).cast(pl.Float64).truediv(10.0).alias("strength"),
            pl.col("score").cast(pl.Float64).alias("value"),
            pl.col("run").alias("n"),
            _problem_reasons(),
            pl.concat_list(pl.format("problem:{}", pl.col("week_ending").cast(pl.String))).alias("sources"),
        )
    )


def _problem_reasons() -> pl.Expr:
    parts = (
        pl.when("substantial").then(pl.lit("substantial")),
        pl.when(pl.col("run") >= STAYS_WEEKS).then(pl.lit("stays")),
        pl.format("onset:{}", pl.col("onset")),
    )
    return pl.concat_list(*parts).list.drop_nulls().alias("reasons")


def within_days(event: Truths, days: int) -> Truths:
    """Whether the event happened on one of the last ``days``, today included."""
    number = np.arange(event.shape[1])
    last = np.maximum.accumulate(np.where(event, number, -(10**6)), axis=1)
    return (number - last) < days


def events_on_grid(rows: pl.DataFrame, grid: DayGrid) -> Truths:
    """Rows (player_id, on_date) as truths on the grid; rows outside it are left out."""
    row, column, inside = grid.places(rows)
    found = np.zeros(grid.shape, dtype=np.bool_)
    found[row[inside], column[inside]] = True
    return found


def sleep_is_short(item: BodyItem) -> tuple[Truths, Truths]:
    """Nights on which the week's sleep is short, and nights on which it can be judged; ``item`` is ``sleep_h``."""
    week = week_mean(item.answers)
    judged = week.known & item.normal.mean.known
    hours, normal = -week.value, -item.normal.mean.value
    return judged & (hours < SHORT_SLEEP_H) & (hours <= normal - SHORTER_THAN_NORMAL_H), judged


@dataclass(frozen=True)
class Judged:
    """Nights on which a sign could be judged at all; the reasons of a pattern name what could not.

    Attributes
    ----------
    load, speed : (players, days) arrays of bool
    """

    load: Truths
    speed: Truths


def overuse_patterns(
    grid: DayGrid, jumps: pl.DataFrame, stiff: pl.DataFrame, speed_falls: pl.DataFrame, sleep: BodyItem, judged: Judged
) -> pl.DataFrame:
    """Candidates of ``overuse_pattern``: two or more of load up, the same region stiff, speed falling, sleep short.

    Parameters
    ----------
    grid : DayGrid
    jumps, stiff, speed_falls : polars.DataFrame
        Candidates of ``load_jump``, ``body_stiff`` and ``speed_fall``.
    sleep : BodyItem
        ``sleep_h``.
    judged : Judged

    Returns
    -------
    polars.DataFrame
        One row per night on which two signs are present: region of the stiffness, or empty; n: signs; reasons: each sign, and
        ``missing:...`` for each that could not be judged. Certain when a stiff region goes with load up, or three signs are
        present.

    Notes
    -----
    A jump counts for 14 days, a region while its answers hold above normal and 7 days more, falling
    speed likewise and 21 days more.
    Co-occurrence only: nothing says that one made the other.

    Source: derived here
    Checked: tests/unit/test_pattern_rules.py, tests/benchmarks/body/test_body_detection.py
    """
    short, sleep_judged = sleep_is_short(sleep)
    present = {
        "load_up": within_days(events_on_grid(jumps.filter("opens"), grid), JUMP_COUNTS_DAYS),
        "speed_fall": _since_opened(speed_falls, grid, SPEED_COUNTS_DAYS),
        "sleep_short": within_days(short, SLEEP_COUNTS_DAYS),
    }
    missing = {"load": ~judged.load, "sleep": ~within_days(sleep_judged, WEEK_DAYS), "speed": ~judged.speed}
    regions = sorted(stiff.filter("opens")["region"].unique().to_list())
    now = {region: _since_opened(stiff.filter(pl.col("region") == region), grid, STIFF_COUNTS_DAYS) for region in regions}
    anywhere = np.logical_or.reduce([np.zeros(grid.shape, dtype=np.bool_), *now.values()])
    frames = [_pattern_rows(grid, region, {**present, "region_stiff": now[region]}, missing, now[region]) for region in regions]
    return candidates(pl.concat([*frames, _pattern_rows(grid, "", present, missing, ~anywhere)]))


def _since_opened(rows: pl.DataFrame, grid: DayGrid, days: int) -> Truths:
    """The finding opened, and has held since without a break of more than ``days``."""
    opens = events_on_grid(rows.filter("opens"), grid)
    holds = within_days(events_on_grid(rows.filter(pl.col("opens") | pl.col("holds")), grid), days)
    number = np.arange(grid.n_days)
    last_open = np.maximum.accumulate(np.where(opens, number, -1), axis=1)
    last_break = np.maximum.accumulate(np.where(holds, -1, number), axis=1)
    now: Truths = holds & (last_open > last_break)
    return now


def _pattern_rows(
    grid: DayGrid, region: str, signs: dict[str, Truths], missing: dict[str, Truths], where: Truths
) -> pl.DataFrame:
    everywhere = np.ones(grid.shape, dtype=np.bool_)
    n_signs = np.sum([sign.astype(np.float64) for sign in signs.values()], axis=0)
    opens = (n_signs >= 2) & where
    told = {**signs, **{f"missing:{name}": gap for name, gap in missing.items()}}
    frame = grid.frame({"opens": opens, "n": readings(n_signs, everywhere), **told}, keep=opens | ended(opens, everywhere))
    reasons = [pl.when(name).then(pl.lit(name)) for name in told]
    together = pl.col("region_stiff") & pl.col("load_up") if region else pl.lit(value=False)
    return frame.select(
        "player_id",
        "on_date",
        pl.lit("overuse_pattern").alias("kind"),
        pl.lit(region).alias("region"),
        "opens",
        pl.col("opens").alias("holds"),
        (pl.col("opens") & ((pl.col("n") >= 3) | together)).alias("certain"),
        pl.col("n").alias("strength"),
        pl.col("n").alias("value"),
        pl.col("n").cast(pl.Int64),
        pl.concat_list(*reasons).list.drop_nulls().alias("reasons"),
        pl.concat_list(pl.format("checkin:{}", pl.col("on_date").cast(pl.String))).alias("sources"),
    )
