"""What speed blocks brought across academies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipelines.measures.federation.pooling import Pooled, random_effects


@dataclass(frozen=True)
class BlocksAcross:
    """What speed blocks brought, academy by academy and together.

    Attributes
    ----------
    academies : polars.DataFrame
        academy, n_persons, n_blocks, effect_pct, error_pct, first_on and last_on (months): one row each.
    pooled : Pooled or None
        None with fewer than two academies.
    """

    academies: pl.DataFrame
    pooled: Pooled | None


def blocks_across(batches: pl.DataFrame) -> BlocksAcross:
    """Estimates of speed blocks brought together over academies.

    Parameters
    ----------
    batches : polars.DataFrame
        Rows of ``shared_block`` of all academies.

    Notes
    -----
    Batches of one academy are about blocks apart and are averaged with weights ``1 / error**2``; academies by random effects. A
    person with blocks in two batches counts in both.

    Source: [KnappHartung2003]
    Checked: tests/unit/test_federation_norms.py
    """
    weight = 1.0 / pl.col("error_pct") ** 2
    own = (
        batches.sort("academy", "month_on", "batch")
        .group_by("academy", maintain_order=True)
        .agg(
            pl.col("n_persons").sum(),
            pl.col("n_blocks").sum(),
            effect_pct=(pl.col("effect_pct") * weight).sum() / weight.sum(),
            error_pct=(1.0 / weight.sum()).sqrt(),
            first_on=pl.col("month_on").min(),
            last_on=pl.col("month_on").max(),
        )
    )
    if own.height < 2:
        return BlocksAcross(own, None)
    errors = own["error_pct"].to_numpy()
    return BlocksAcross(own, random_effects(own["effect_pct"].to_numpy(), np.square(errors)))
