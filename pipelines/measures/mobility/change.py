"""A mobility screen against the smallest change that the test can detect."""

from __future__ import annotations

import numpy as np
import polars as pl

TYPICAL_ERROR_DEG = {"trunk_turn": 2.0}
"""Between-day typical error [deg] of tests with a published value: sitting trunk rotation, the larger of 1.4 and 2.0."""

DEFAULT_TYPICAL_ERROR_DEG = 3.5
"""For tests without a published value here. Own cautious choice, printed as such."""


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

    Notes
    -----
    Detectable: ``1.96 sqrt(2) TE``, 95 %; a change up to it is no clear change.

    Source: [Johnson2012] for the trunk turn; formula common
    Checked: tests/published/test_mobility.py
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
