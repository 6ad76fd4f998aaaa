"""What changed while a phase lasted: the levels on either side of it, with what is known of the difference."""

from __future__ import annotations

import polars as pl

BEFORE_DAYS = 60
BEFORE_MONTHS = 3
"""How far back the level before a phase may lie. Own choice."""

_SPAN = ("player_id", "began_on", "ended_on")


def combined_half_width(first: pl.Expr, second: pl.Expr) -> pl.Expr:
    """Half-width of the interval of a sum or difference of two independent quantities, from theirs [unit of the quantities].

    Notes
    -----
    ``u = sqrt(u1**2 + u2**2)``: of independent quantities the variances add, and intervals of one level of confidence are
    the same multiple of their standard errors. Two levels of one player share the device and the model, so that the
    interval is rather too wide than too narrow.

    Source: [JCGM100], 5.1.2
    Checked: tests/published/test_combined_uncertainty.py
    """
    return (first**2 + second**2).sqrt()


def level_changes(spans: pl.DataFrame, levels: pl.DataFrame) -> pl.DataFrame:
    """Change of one quantity from before to the end of each phase.

    Parameters
    ----------
    spans : polars.DataFrame
        player_id, began_on, ended_on: both days belong to the phase.
    levels : polars.DataFrame
        player_id, on_date, session_id, level, level_low, level_high of one quantity: its level after each session.

    Returns
    -------
    polars.DataFrame
        player_id, began_on, n_sessions (during the phase), before, after, change, low, high; null where there is no session
        in the 60 days before, or none during it.

    Notes
    -----
    The phase counts from its first day: a session of that day belongs to it.

    Checked: tests/unit/test_programme.py
    """
    known = levels.sort("player_id", "on_date", "session_id").select(
        "player_id", "on_date", "level", half=(pl.col("level_high") - pl.col("level_low")) / 2
    )
    phases = spans.select(_SPAN).sort("player_id", "began_on")
    before = phases.join_asof(
        known.rename({"on_date": "before_on", "level": "before", "half": "half_before"}),
        left_on="began_on",
        right_on="before_on",
        by="player_id",
        allow_exact_matches=False,
        tolerance=f"{BEFORE_DAYS}d",
        check_sortedness=False,
    )
    during = phases.join(known, on="player_id", maintain_order="left_right").filter(
        pl.col("on_date").is_between("began_on", "ended_on")
    )
    after = during.group_by("player_id", "began_on", maintain_order=True).agg(
        n_sessions=pl.len().cast(pl.Int64), after=pl.col("level").last(), half_after=pl.col("half").last()
    )
    joined = before.join(after, on=["player_id", "began_on"], how="left", maintain_order="left")
    return _with_change(joined, pl.col("n_sessions").fill_null(0)).select(
        "player_id", "began_on", "n_sessions", "before", "after", "change", "low", "high"
    )


def _with_change(rows: pl.DataFrame, *more: pl.Expr) -> pl.DataFrame:
    change = pl.col("after") - pl.col("before")
    half = combined_half_width(pl.col("half_before"), pl.col("half_after"))
    return rows.with_columns(change.alias("change"), (change - half).alias("low"), (change + half).alias("high"), *more)


def stroke_changes(spans: pl.DataFrame, months: pl.DataFrame) -> pl.DataFrame:
    """Strokes a round of the months on either side of each phase, by course.

    Parameters
    ----------
    spans : polars.DataFrame
        player_id, began_on, ended_on.
    months : polars.DataFrame
        player_id, course, month_on (first day), per_round, per_round_low, per_round_high; null: unknown.

    Returns
    -------
    polars.DataFrame
        player_id, began_on, course, before_month_on, after_month_on, before, after, change, low, high, where both are known.

    Notes
    -----
    Before: the last month known of the three before the month in which the phase began. After: the last month that the phase
    reached. Above zero costs strokes.

    Checked: tests/unit/test_programme.py
    """
    first_month = pl.col("began_on").dt.truncate("1mo")
    known = months.drop_nulls(["per_round", "per_round_low", "per_round_high"]).sort("month_on")
    near = spans.join(known, on="player_id", maintain_order="left_right").filter(
        pl.col("month_on").is_between(first_month.dt.offset_by(f"-{BEFORE_MONTHS}mo"), "ended_on")
    )
    half = (pl.col("per_round_high") - pl.col("per_round_low")) / 2
    is_before = pl.col("month_on") < first_month
    sides = near.group_by("player_id", "began_on", "course", maintain_order=True).agg(
        *(
            value.filter(side).sort_by(pl.col("month_on").filter(side)).last().alias(f"{name}{when}")
            for when, side in (("before", is_before), ("after", ~is_before))
            for name, value in (("month_", pl.col("month_on")), ("", pl.col("per_round")), ("half_", half))
        )
    )
    both = sides.drop_nulls(["month_before", "month_after"])
    return (
        _with_change(both)
        .select(
            *("player_id", "began_on", "course"),
            pl.col("month_before").alias("before_month_on"),
            pl.col("month_after").alias("after_month_on"),
            *("before", "after", "change", "low", "high"),
        )
        .sort("player_id", "began_on", "course")
    )
