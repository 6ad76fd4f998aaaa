"""Phases of a plan, and what was planned and done in each."""

from __future__ import annotations

from datetime import date

import polars as pl

BRIDGED_DAYS = 21
"""Weeks of one name that begin at most so many days after one another are one phase: a holiday does not end it. Own choice."""

_SPAN = ("player_id", "began_on")


def phase_weeks(plans: pl.DataFrame) -> pl.DataFrame:
    """Planned weeks with the phase that each belongs to.

    Parameters
    ----------
    plans : polars.DataFrame
        player_id, week_starting, phase (null or empty: the week belongs to none), and further columns, which are kept.

    Returns
    -------
    polars.DataFrame
        Weeks that have a phase, with began_on and ended_on of it: the first day of its first week, the last of its last.
        Sorted by player and week.

    Notes
    -----
    Another name begins another phase, and so does a week that begins more than 21 days after the one before. Own rule.
    """
    weeks = plans.filter(pl.col("phase").is_not_null(), pl.col("phase") != "").sort("player_id", "week_starting")
    own = (pl.col("phase") != pl.col("phase").shift()) | (
        pl.col("week_starting") > pl.col("week_starting").shift() + pl.duration(days=BRIDGED_DAYS)
    )
    numbered = weeks.with_columns(phase_no=own.fill_null(value=True).cum_sum().over("player_id"))
    span = ("player_id", "phase_no")
    return numbered.with_columns(
        began_on=pl.col("week_starting").min().over(span),
        ended_on=pl.col("week_starting").max().over(span) + pl.duration(days=6),
    ).drop("phase_no")


def phases(plans: pl.DataFrame) -> pl.DataFrame:
    """Phases of each player: player_id, phase, began_on, ended_on, sorted. ``plans`` as :func:`phase_weeks` takes them.

    Checked: tests/unit/test_programme.py
    """
    return phase_weeks(plans).select("player_id", "phase", "began_on", "ended_on").unique(maintain_order=True)


def planned_and_done(weeks: pl.DataFrame, days: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """What was planned and done in each phase.

    Parameters
    ----------
    weeks : polars.DataFrame
        As :func:`phase_weeks` returns them, with swings_full, swings_speed and minutes as planned; weeks that have begun.
    days : polars.DataFrame
        player_id, on_date, n_sessions, swings_full, minutes of the known days; null: unknown.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        player_id, began_on, n_weeks, n_days and n_days_known (of weeks that are over), planned_full, planned_speed,
        planned_minutes, done_full, done_share, done_minutes, n_sessions.

    Notes
    -----
    Planned and done are of the weeks that are over, so that they can be compared. Done is scaled by the days known
    (``sum * n_days / n_days_known``), null below five of seven, or when a known day lacks the number.

    Checked: tests/unit/test_programme.py
    """
    planned = weeks.with_columns(is_over=pl.col("week_starting") + pl.duration(days=6) <= as_of)
    over = pl.col("is_over")
    plan = planned.group_by(_SPAN, maintain_order=True).agg(
        n_weeks=pl.len().cast(pl.Int64),
        n_days=7 * over.sum().cast(pl.Int64),
        planned_full=_sum("swings_full", over),
        planned_speed=_sum("swings_speed", over),
        planned_minutes=_sum("minutes", over),
    )
    inside = days.sort("player_id", "on_date").join_asof(
        planned.select("player_id", "week_starting", "began_on", "is_over").sort("player_id", "week_starting"),
        left_on="on_date",
        right_on="week_starting",
        by="player_id",
        check_sortedness=False,
    )
    inside = inside.filter(pl.col("on_date") <= pl.col("week_starting") + pl.duration(days=6))
    done = inside.group_by(_SPAN, maintain_order=True).agg(
        n_days_known=over.sum().cast(pl.Int64),
        done_full=_complete("swings_full", over),
        done_minutes=_complete("minutes", over),
        n_sessions=pl.col("n_sessions").sum().cast(pl.Int64),
    )
    joined = plan.join(done, on=_SPAN, how="left", maintain_order="left")
    enough = pl.col("n_days_known") * 7 >= 5 * pl.col("n_days")
    scale = pl.when(enough & (pl.col("n_days_known") > 0)).then(pl.col("n_days") / pl.col("n_days_known"))
    scaled = joined.with_columns(pl.col("n_days_known", "n_sessions").fill_null(0), pl.col("done_full", "done_minutes") * scale)
    share = pl.when(pl.col("planned_full") > 0).then(pl.col("done_full") / pl.col("planned_full"))
    return scaled.with_columns(done_share=share, done_full=pl.col("done_full").round().cast(pl.Int64))


def _sum(name: str, over: pl.Expr) -> pl.Expr:
    """Sum over the weeks that are over and planned; null when none is."""
    known = pl.col(name).filter(over)
    return pl.when(known.is_not_null().any()).then(known.sum())


def _complete(name: str, over: pl.Expr) -> pl.Expr:
    known = pl.col(name).filter(over)
    return pl.when(known.is_not_null().all() & (known.len() > 0)).then(known.sum())
