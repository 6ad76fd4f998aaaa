"""Candidates of ``transfer_loss``, ``speed_cost`` and ``strokes_*``: one evaluation at the end of every finished month."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
from scipy.special import ndtr

from pipelines.measures.flags.candidates import candidates
from pipelines.measures.reference_months import REFERENCE_MONTHS
from pipelines.measures.worthwhile import STROKES

SMALLEST_GAIN_MPS = 0.5
"""A gain of club speed below about one mile an hour is not followed: own choice."""
OPENS_P, SHARE_LOST = 0.01, 0.5
"""Own choices: it opens when chance would show as much in one month of a hundred; a loss only when half is missing."""
LASTS_MONTHS = REFERENCE_MONTHS[0]
"""So many months after it opened what a change is measured against begins to hold the change itself: it is told as lasting."""
HOLDS_SHARE = 0.25
"""It stays open while a quarter of what is on offer is still missing."""


def _month_end() -> pl.Expr:
    return pl.col("month_on").dt.month_end()


def _chance_below(z: pl.Expr) -> pl.Expr:
    """Chance of a standard normal value above z."""
    return z.map_batches(lambda values: pl.Series(ndtr(-values.to_numpy().astype(np.float64))), return_dtype=pl.Float64)


def transfer_candidates(months: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    """Candidates of ``transfer_loss``: club speed is up, and carry has not followed.

    Parameters
    ----------
    months : polars.DataFrame
        Driver rows of ``transfer_month``.
    as_of : datetime.date
        Months that end later say nothing yet.

    Returns
    -------
    polars.DataFrame
        One row per finished month with a reference, when club speed is up by 0.5 m/s; and the first month after it in which it no
        longer is. ``value`` is the carry, ``baseline`` the carry that the speed would give.

    Notes
    -----
    Two one-sided tests, both must hold, so the larger p-value counts: speed above the reference, and carry below the reference
    plus what is on offer. Errors between sessions of both sides. Months in which ball and device factors were not known by
    their end are left out. Source: own rule. Checked: tests/unit/test_ball_rules.py.
    """
    speed_up = pl.col("club_speed_mps") - pl.col("reference_club_speed_mps")
    speed_error = _both("club_speed_error_mps", "reference_club_speed_error_mps")
    missing = pl.col("on_offer_m") - pl.col("carry_change_m")
    # an error of the speed is an error of what is on offer too
    offer_error = speed_error * pl.col("on_offer_m") / speed_up
    carry_error = (_both("carry_error_m", "reference_carry_error_m") ** 2 + offer_error**2).sqrt()
    judged = (
        months.filter(pl.col("reason") == "", pl.col("is_factor_known"), pl.col("reference_carry_m").is_not_null())
        .filter(_month_end() <= as_of, pl.col("carry_error_m").is_not_null(), pl.col("club_speed_error_mps").is_not_null())
        .with_columns(speed_up.alias("speed_up"), missing.alias("missing"))
        .with_columns((speed_up / speed_error).alias("z_speed"), (missing / carry_error).alias("z_carry"))
        .with_columns(_chance_below(pl.min_horizontal("z_speed", "z_carry")).alias("p_value"))
        .sort("player_id", "month_on")
    )
    is_up = pl.col("speed_up") >= SMALLEST_GAIN_MPS
    opens = is_up & (pl.col("missing") >= SHARE_LOST * pl.col("on_offer_m")) & (pl.col("p_value") < OPENS_P)
    holds = is_up & (pl.col("missing") >= HOLDS_SHARE * pl.col("on_offer_m")) & (pl.col("p_value") < 0.10)
    return _candidate_rows(
        judged.with_columns(opens.alias("opens"), holds.alias("holds"), is_up.alias("is_up")),
        "transfer_loss",
        metric=pl.lit("comparable_carry_m"),
        value=pl.col("carry_m"),
        baseline=pl.col("reference_carry_m") + pl.col("on_offer_m"),
        n=pl.col("n_shots"),
        reasons=pl.concat_list(
            _lost("strike_m", "lost_strike"),
            _lost("speed_ratio_m", "lost_ratio"),
            _lost("launch_m", "lost_launch"),
            _lost("spin_m", "lost_spin"),
        ).list.drop_nulls(),
    )


def _both(first: str, second: str) -> pl.Expr:
    return (pl.col(first) ** 2 + pl.col(second).fill_null(pl.col(first)) ** 2).sqrt()


def _lost(column: str, code: str) -> pl.Expr:
    return pl.when(pl.col(column) <= -0.2 * pl.col("on_offer_m")).then(pl.lit(code))


def cost_candidates(months: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    """Candidates of ``speed_cost``: club speed is up, and the drives now cost more strokes than before.

    Parameters
    ----------
    months : polars.DataFrame
        Rows of ``stroke_month`` of each player's home course, with device_id and is_factor_known of the month.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        One row per finished month with a reference, when club speed is up by 0.5 m/s; and the first month after it in which it no
        longer is. ``value`` is the change of strokes a round, low and high its 90 % interval.

    Notes
    -----
    Both must hold: speed above the reference beyond the error of both sides, strokes above the reference likewise. The larger
    p-value counts. It lasts as strokes do. Source: own rule, on [Broadie2012]. Checked: tests/unit/test_ball_rules.py.
    """
    judged = (
        months.filter(pl.col("reason") == "", pl.col("is_factor_known"), _month_end() <= as_of)
        .filter(pl.col("change_speed_mps").is_not_null(), pl.col("change_speed_error_mps").is_not_null())
        .with_columns((pl.col("change_speed_mps") / pl.col("change_speed_error_mps")).alias("z_speed"))
        .with_columns((pl.col("change") / pl.col("change_error")).alias("z_cost"))
        .with_columns(_chance_below(pl.min_horizontal("z_speed", "z_cost")).alias("p_value"))
        .sort("player_id", "month_on")
    )
    is_up = pl.col("change_speed_mps") >= SMALLEST_GAIN_MPS
    return _stroke_rows(
        judged.with_columns(
            (is_up & (pl.col("p_value") < OPENS_P)).alias("opens"),
            (is_up & (pl.col("p_value") < 0.10)).alias("holds"),
            is_up.alias("is_up"),
        ),
        "speed_cost",
    )


def stroke_candidates(months: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    """Candidates of ``strokes_worse`` and ``strokes_better``: the drives cost more, or fewer, strokes than before.

    Parameters
    ----------
    months : polars.DataFrame
        Rows of ``stroke_month`` of each player's home course, with device_id and is_factor_known of the month.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        One row per finished month with a reference on the side of the change, and the first month after it on the other.
        ``value`` is the change of strokes a round, low and high its 90 % interval.

    Notes
    -----
    One-sided: the change over its standard error, which holds those of both patterns. It opens at .01 and at 0.3 strokes or
    more, and holds while the chance is below .10; six months after it opened it closes as lasting, since the months of reference
    then begin to hold the change itself, and opens no more in this run of months.
    Source: own rule, on [Broadie2012]. Checked: tests/unit/test_ball_rules.py.
    """
    judged = months.filter(
        pl.col("reason") == "", pl.col("is_factor_known"), _month_end() <= as_of, pl.col("change_error") > 0
    ).sort("player_id", "month_on")
    return pl.concat([_stroke_side(judged, "strokes_worse", 1.0), _stroke_side(judged, "strokes_better", -1.0)])


def _stroke_side(judged: pl.DataFrame, kind: str, sign: float) -> pl.DataFrame:
    change = sign * pl.col("change")
    sided = judged.with_columns(_chance_below(change / pl.col("change_error")).alias("p_value"))
    matters = (pl.col("p_value") < OPENS_P) & (change >= STROKES)
    return _stroke_rows(
        sided.with_columns(matters.alias("opens"), (pl.col("p_value") < 0.10).alias("holds"), (change > 0).alias("is_up")),
        kind,
    )


def _let_last(judged: pl.DataFrame) -> pl.DataFrame:
    """Neither opens nor holds from six months after a run of months that hold has opened; ``lasted`` from then on."""
    run = (~pl.col("holds")).cum_sum().over("player_id")
    number = pl.col("month_on").dt.year() * 12 + pl.col("month_on").dt.month().cast(pl.Int32)
    opened = pl.when("opens").then("number").min().over("player_id", "run")
    lasted = (pl.col("holds") & (pl.col("number") - opened >= LASTS_MONTHS)).fill_null(value=False)
    return judged.with_columns(run.alias("run"), number.alias("number")).with_columns(
        lasted.alias("lasted"), pl.col("opens") & ~lasted, pl.col("holds") & ~lasted
    )


def _stroke_rows(judged: pl.DataFrame, kind: str) -> pl.DataFrame:
    """Candidates whose value is a change of strokes a round, with the scatter behind it as their reason."""
    return _candidate_rows(
        _let_last(judged),
        kind,
        metric=pl.lit("strokes"),
        value=pl.col("change"),
        baseline=pl.lit(None, dtype=pl.Float64),
        n=pl.col("recent_n"),
        low=pl.col("change_low"),
        high=pl.col("change_high"),
        reasons=pl.concat_list(
            pl.when(pl.col("change_scatter_deg") > 0.3).then(pl.lit("scatter_up")),
            pl.when("lasted").then(pl.lit("closed:lasting")),
        ).list.drop_nulls(),
    )


def _candidate_rows(judged: pl.DataFrame, kind: str, metric: pl.Expr, **columns: pl.Expr) -> pl.DataFrame:
    was_up = pl.col("is_up").shift(1).over("player_id").fill_null(value=False)
    rows = judged.filter(pl.col("is_up") | was_up)
    return candidates(
        rows.select(
            "player_id",
            _month_end().alias("on_date"),
            pl.lit(kind).alias("kind"),
            metric.alias("metric"),
            pl.lit("driver").alias("club_group"),
            "device_id",
            "opens",
            "holds",
            "p_value",
            (-pl.col("p_value").clip(1e-8, 1.0).log10()).alias("strength"),
            pl.concat_list(pl.format("month:{}", pl.col("month_on").cast(pl.String))).alias("sources"),
            *(expression.alias(name) for name, expression in columns.items()),
        )
    )
