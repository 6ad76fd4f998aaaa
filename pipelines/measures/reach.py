"""How far an interval reaches, in standard errors."""

from __future__ import annotations

import polars as pl
from scipy.special import ndtri, stdtrit

SURE_AND_LIKELY = float(ndtri(0.95) + ndtri(0.80))
"""Standard errors that a change must have, to be seen four times in five by a two-sided test of level .10: 1.645 + .842."""


def student_reach(freedom: pl.Series) -> pl.Series:
    """Half width of a 90 % interval of Student's t [standard errors].

    Parameters
    ----------
    freedom : polars.Series
        Degrees of freedom, at least 1.

    Returns
    -------
    polars.Series

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_lasting_load_body.py.
    """
    return pl.Series("reach", stdtrit(freedom.to_numpy(), 0.95), dtype=pl.Float64)
