"""A mobility screen against the smallest change that the test can detect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

TYPICAL_ERROR_DEG = {"trunk_turn": 2.0}
"""Between-day typical error [deg] of tests with a published value: sitting trunk rotation, the larger of 1.4 and 2.0."""

DEFAULT_TYPICAL_ERROR_DEG = 3.5
"""For tests without a published value here. Own cautious choice, printed as such."""


def minimal_detectable_change(typical_error: float) -> float:
    """Smallest change of one player that is beyond measurement error, 95 % [unit of the typical error]: ``1.96 sqrt(2) TE``.

    Source: [Johnson2012]; formula common
    Checked: tests/published/test_mobility.py
    """
    return float(1.96 * np.sqrt(2.0) * typical_error)


@dataclass(frozen=True)
class MobilityChange:
    """One screen against the one before.

    Attributes
    ----------
    change_deg, detectable_deg : float
    verdict : str
        ``more``, ``less`` or ``no clear change``.
    is_published : bool
        Whether the typical error comes from a published value.
    """

    change_deg: float
    detectable_deg: float
    verdict: str
    is_published: bool


def mobility_change(test: str, before_deg: float, now_deg: float) -> MobilityChange:
    """Change of a screen, with its verdict; a change up to the detectable one is no clear change.

    Source: [Johnson2012] for the trunk turn
    Checked: tests/published/test_mobility.py
    """
    detectable = minimal_detectable_change(TYPICAL_ERROR_DEG.get(test, DEFAULT_TYPICAL_ERROR_DEG))
    change = now_deg - before_deg
    verdict = "no clear change" if abs(change) <= detectable else ("more" if change > 0 else "less")
    return MobilityChange(change, detectable, verdict, test in TYPICAL_ERROR_DEG)


def mobility_changes(screens: pl.DataFrame) -> pl.DataFrame:
    """Each screen against the first of the same player, test and side, and against the one before.

    Parameters
    ----------
    screens : polars.DataFrame
        player_id, date, test, side, value_deg.

    Returns
    -------
    polars.DataFrame
        The same columns (side null becomes ``both``) and since_first_deg, since_last_deg, detectable_deg, is_published, verdict
        (against the first; null for the first itself), sorted.
    """
    keys = ("player_id", "test", "side")
    error = pl.col("test").replace_strict(TYPICAL_ERROR_DEG, default=DEFAULT_TYPICAL_ERROR_DEG, return_dtype=pl.Float64)
    ordered = screens.with_columns(side=pl.col("side").fill_null("both")).sort("player_id", "test", "side", "date")
    changed = ordered.with_columns(
        since_first_deg=pl.when(pl.int_range(pl.len()).over(keys) > 0).then(
            pl.col("value_deg") - pl.col("value_deg").first().over(keys)
        ),
        since_last_deg=pl.col("value_deg").diff().over(keys),
        detectable_deg=1.96 * float(np.sqrt(2.0)) * error,
        is_published=pl.col("test").is_in(list(TYPICAL_ERROR_DEG)),
    )
    beyond = pl.col("since_first_deg").abs() > pl.col("detectable_deg")
    return changed.with_columns(
        verdict=pl.when(pl.col("since_first_deg").is_null())
        .then(None)
        .when(~beyond)
        .then(pl.lit("no clear change"))
        .when(pl.col("since_first_deg") > 0)
        .then(pl.lit("more"))
        .otherwise(pl.lit("less"))
    )
