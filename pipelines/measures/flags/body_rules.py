"""Candidates of the flags on load and body: conditions night by night, each from that night and the nights before it alone.

A flag says: look and ask. No condition here is a limit, and none has been shown to foretell an injury.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA, candidates
from pipelines.measures.load.change import JUMP_BORDERS, JUMP_CLASSES
from pipelines.measures.load.grid import Readings, Truths, readings
from pipelines.measures.load.windows import WEEK_DAYS, days_known

if TYPE_CHECKING:
    from pipelines.measures.body.items import BodyItem
    from pipelines.measures.load.grid import DayGrid
    from pipelines.measures.load.series import LoadSeries

JUMP_OPENS, JUMP_IS_LARGE = 0.30, 1.00
JUMP_LEAST_EXTRA = {"swings": 40.0, "full_effort": 30.0}
JUMP_KNOWN_DAYS, JUMP_SWING_DAYS = 20, 5
WEEK_TIMES = {"swings": 1.6, "full_effort": 2.0}
WEEK_TIMES_LARGE = {"swings": 2.0, "full_effort": 2.5}
WEEK_OVER_LARGEST, WEEK_OVER_LARGEST_LARGE = 1.2, 1.5
WEEK_LEAST_EXTRA = {"swings": 150.0, "full_effort": 100.0}
FLAT_DAYS = 14
BODY_OPENS_P, BODY_OPENS_EXCESS = 5e-4, 1.0
BODY_HOLDS_SCORE, BODY_HOLDS_EXCESS = 2.0, 0.5
BODY_LISTED_P = 0.05
"""Own choices.

Calibrated: simulated squads whose seeds are not those reported (tests/benchmarks).
"""

_DAY_COLUMN = {"swings": "swings_all", "full_effort": "swings_full_effort"}


def ended(active: Truths, looked: Truths, held_before: Truths | None = None) -> Truths:
    """Nights with a look on which a condition no longer holds, but held at the look before.

    ``held_before``, shape (players,): whether it held at the last look before the first of the days.
    """
    return np.asarray(looked & ~active & held_at_last_look(active, looked, held_before)[:, :-1])


def held_at_last_look(active: Truths, looked: Truths, held_before: Truths | None = None) -> Truths:
    """Whether a condition held at the last look before each day, and before the one after the last: shape (players, days + 1)."""
    number = np.arange(active.shape[1])
    last_look = np.maximum.accumulate(np.where(looked, number, -1), axis=1)
    before = np.concatenate([np.full((active.shape[0], 1), -1), last_look], axis=1)
    first = np.zeros(active.shape[0], dtype=np.bool_) if held_before is None else held_before
    return np.where(before >= 0, np.take_along_axis(active, np.maximum(before, 0), 1), first[:, None])


def day_jump_opens(series: LoadSeries, measure: str) -> Truths:
    """Nights on which the day's swings are more than 30 % above the largest day of the 30 days before, shape (players, days).

    Notes
    -----
    And above it by at least 40 swings (30 at full effort); at least 20 of those 30 days are known, and 5 of them had swings: a
    jump from next to nothing, or from an unknown month, is not called one.

    Source: [Frandsen2025] for the classes; the rest is own choice
    Checked: tests/unit/test_body_rules.py against the definition, day by day
    """
    done, jump = series.day[_DAY_COLUMN[measure]], series.derived[f"jump_{measure}"]
    extra = done.value - series.derived[f"largest_before_{measure}"].value
    known_before = _shifted(days_known(done.known, 30))
    swung_before = _shifted(days_known(done.known & (done.value > 0), 30))
    history = (known_before >= JUMP_KNOWN_DAYS) & (swung_before >= JUMP_SWING_DAYS)
    opens: Truths = jump.known & (jump.value > JUMP_OPENS + 1e-9) & (extra >= JUMP_LEAST_EXTRA[measure]) & history
    return opens


def _shifted(cells: np.ndarray) -> np.ndarray:
    return np.concatenate([np.zeros((cells.shape[0], 1)), cells[:, :-1]], axis=1)


def week_jump_opens(series: LoadSeries, measure: str) -> Truths:
    """Nights on which the last 7 days are far above the usual week of the four before, shape (players, days).

    Notes
    -----
    More than 1.6 times (full effort: 2 times), above it by at least 150 swings (100 at full effort), and 20 % above the largest
    7 days of the 12 weeks before: so the usual week after a holiday is none, whatever a ratio says. Only on a day that is known.
    """
    week, usual = series.derived[f"week_{measure}"], series.derived[f"usual_week_{measure}"]
    largest = series.derived[f"largest_week_before_{measure}"]
    above = (week.value > WEEK_TIMES[measure] * usual.value) & (week.value - usual.value >= WEEK_LEAST_EXTRA[measure])
    based = usual.known & largest.known & (usual.value > 0)
    opens: Truths = series.is_known & week.known & based & above & (week.value > WEEK_OVER_LARGEST * largest.value)
    return opens


def load_jumps(series: LoadSeries) -> pl.DataFrame:
    """Candidates of ``load_jump``: days and weeks of swings and of full-effort swings far above the player's own month.

    Returns
    -------
    polars.DataFrame
        metric ``day_swings``, ``day_full_effort``, ``week_swings``, ``week_full_effort``; value and baseline in swings;
        certain (a fact, so it may be an alert) when a day more than doubles the largest of the month, or a week is more than 2
        times (full effort: 2.5 times) the usual one and half as much again as the largest of 12 weeks.
    """
    frames = []
    for measure in ("swings", "full_effort"):
        done, largest = series.day[_DAY_COLUMN[measure]], series.derived[f"largest_before_{measure}"]
        doubled = series.derived[f"jump_{measure}"].value > JUMP_IS_LARGE + 1e-9
        everywhere = np.ones(done.value.shape, dtype=np.bool_)
        known = readings(days_known(done.known, WEEK_DAYS), everywhere)
        whole = readings(np.full(everywhere.shape, float(WEEK_DAYS)), everywhere)
        frames.append(_jump_rows(series, f"day_{measure}", day_jump_opens(series, measure), done, largest, doubled, whole))
        week, usual = series.derived[f"week_{measure}"], series.derived[f"usual_week_{measure}"]
        largest_week = series.derived[f"largest_week_before_{measure}"]
        beyond = (week.value > WEEK_TIMES_LARGE[measure] * usual.value) & (
            week.value > WEEK_OVER_LARGEST_LARGE * largest_week.value
        )
        frames.append(_jump_rows(series, f"week_{measure}", week_jump_opens(series, measure), week, usual, beyond, known))
    return candidates(pl.concat(frames))


def _jump_rows(
    series: LoadSeries, metric: str, opens: Truths, value: Readings, base: Readings, large: Truths, known: Readings
) -> pl.DataFrame:
    over = ended(opens, np.ones(opens.shape, dtype=np.bool_))
    times = readings(value.value / np.where(base.value > 0, base.value, 1.0), value.known & base.known & (base.value > 0))
    frame = series.grid.frame(
        {
            "opens": opens,
            "is_large": opens & large,
            "times": times,
            "value": value,
            "baseline": base,
            "n": series.derived["days_known_28"],
            "known": known,
        },
        keep=opens | over,
    )
    scaled = pl.when(pl.col("known") < WEEK_DAYS).then(pl.format("known={}", pl.col("known").cast(pl.Int64)))
    above = pl.sum_horizontal((pl.col("times") > 1 + border + 1e-9).cast(pl.Int64) for border in JUMP_BORDERS)
    jump_class = above.replace_strict(dict(enumerate(JUMP_CLASSES)), return_dtype=pl.String)
    return frame.select(
        "player_id",
        "on_date",
        pl.lit("load_jump").alias("kind"),
        pl.lit(metric).alias("metric"),
        "opens",
        pl.col("opens").alias("holds"),
        pl.col("is_large").alias("certain"),
        pl.when("opens").then("times").otherwise(0.0).alias("strength"),
        "value",
        "baseline",
        pl.col("n").cast(pl.Int64),
        pl.concat_list(pl.lit(metric), pl.format("class:{}", jump_class.fill_null("none")), scaled)
        .list.drop_nulls()
        .alias("reasons"),
        pl.concat_list(pl.format("load:{}", pl.col("on_date").cast(pl.String))).alias("sources"),
    )


def load_flats(series: LoadSeries) -> pl.DataFrame:
    """Candidates of ``load_flat``: 14 or more known days in a row, none of them easy.

    Notes
    -----
    An unknown day ends the run: it may have been easy. An easy day is defined at
    :func:`pipelines.measures.load.series.easy_days`.
    """
    run = series.derived["hard_days_in_a_row"]
    opens = run.known & (run.value >= FLAT_DAYS)
    frame = series.grid.frame({"opens": opens, "value": run}, keep=opens | ended(opens, np.ones(opens.shape, dtype=np.bool_)))
    return candidates(
        frame.select(
            "player_id",
            "on_date",
            pl.lit("load_flat").alias("kind"),
            pl.lit("days_without_easy").alias("metric"),
            "opens",
            pl.col("opens").alias("holds"),
            pl.lit(value=True).alias("certain"),
            pl.col("value").fill_null(0.0).alias("strength"),
            "value",
            pl.lit(float(FLAT_DAYS)).alias("baseline"),
            pl.concat_list(pl.format("load:{}", pl.col("on_date").cast(pl.String))).alias("sources"),
        )
    )


def body_opens(item: BodyItem, n_items: np.ndarray) -> Truths:
    """Nights on which the last answers are above the own normal beyond chance, all items asked that night allowed for."""
    above = item.above
    clear = above.p_value.value * n_items <= BODY_OPENS_P
    opens: Truths = above.score.known & clear & (above.excess.value >= BODY_OPENS_EXCESS)
    return opens


def body_holds(item: BodyItem) -> Truths:
    """Nights on which the last answers are still clearly above the own normal, as it was before they rose."""
    above = item.held
    holds: Truths = above.score.known & (above.score.value >= BODY_HOLDS_SCORE) & (above.excess.value >= BODY_HOLDS_EXCESS)
    return holds


def _answer_reasons() -> pl.Expr:
    """How many answers speak, and that the flag closes because what they tell lasts."""
    answers = pl.format("answers:{}", pl.col("n_recent").cast(pl.Int64))
    return pl.concat_list(answers, pl.when("lasted").then(pl.lit("closed:lasting"))).list.drop_nulls().alias("reasons")


def body_holds_at(item: BodyItem, n_items: np.ndarray, held_before: Truths | None = None) -> Truths:
    """Whether a rise was open or held at the last look before each day, see :func:`held_at_last_look`."""
    return held_at_last_look(body_opens(item, n_items) | body_holds(item), item.above.score.known, held_before)


def body_rises(
    item: BodyItem, grid: DayGrid, n_items: np.ndarray, n_players: np.ndarray, held_before: Truths | None = None
) -> pl.DataFrame:
    """Candidates of ``body_stiff`` (an item with a region) or ``body_fatigue`` (any other).

    Parameters
    ----------
    item : BodyItem
    grid : DayGrid
    n_items : (players, days) array
        Items of the same kind answered that night: the chance of the highest of several is allowed for.
    n_players : (days,) array
        Players with an answer in the last 7 days.
    held_before : (players,) array of bool, optional
        Whether a rise was open or held at the last look before the first day of the grid.

    Returns
    -------
    polars.DataFrame
        value: mean of the last 3, 5 or 8 answers; baseline: own normal; low and high: 90 % interval of the value; n: answers
        behind
        the baseline.
    """
    opens, holds = body_opens(item, n_items), body_holds(item)
    above, held = item.above, item.held
    listed = above.score.known & (above.p_value.value * n_items <= BODY_LISTED_P)
    keep = item.lasted | opens | holds | listed | ended(opens | holds, above.score.known, held_before)
    if not keep.any():
        return pl.DataFrame(schema=CANDIDATE_SCHEMA)
    error = np.where(held.score.value > 0, held.excess.value / np.where(held.score.value > 0, held.score.value, 1.0), 0.0)
    told = item.sign * held.recent.value
    low = readings(told - 1.645 * error, held.score.known)
    high = readings(told + 1.645 * error, held.score.known)
    frame = grid.frame(
        {
            "opens": opens,
            "holds": opens | holds,
            "p_value": above.p_value,
            "n_streams": readings(n_items.astype(np.float64), above.score.known),
            "n_players": readings(np.broadcast_to(n_players, opens.shape).astype(np.float64), above.score.known),
            "strength": above.score,
            "value": readings(told, held.recent.known),
            "baseline": readings(item.sign * item.normal.mean.value, item.normal.mean.known),
            "low": low,
            "high": high,
            "n": readings(item.normal.n.astype(np.float64), item.normal.mean.known),
            "n_recent": readings(held.n_answers.astype(np.float64), held.recent.known),
            "lasted": item.lasted,
        },
        keep=keep,
    )
    region = item.region
    return candidates(
        frame.select(
            "player_id",
            "on_date",
            pl.lit("body_stiff" if region else "body_fatigue").alias("kind"),
            pl.lit("" if region else item.name).alias("metric"),
            pl.lit(region).alias("region"),
            "opens",
            "holds",
            "p_value",
            pl.col("n_streams").cast(pl.Int64),
            pl.col("n_players").cast(pl.Int64),
            "strength",
            "value",
            "baseline",
            "low",
            "high",
            pl.col("n").cast(pl.Int64),
            _answer_reasons(),
            pl.concat_list(pl.format("checkin:{}", pl.col("on_date").cast(pl.String))).alias("sources"),
        )
    )
