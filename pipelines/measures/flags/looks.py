"""How often a player is looked at: what one look says by chance, it says as often a month as there are looks."""

from __future__ import annotations

import polars as pl

LOOKS_A_MONTH, LOOKS_BACK, LEAST_LOOKS = 13.0, 12, 1.0 / 3.0
"""Sessions a month of those on whom limits were chosen, three a week; over how many sessions they are counted; and down to what
share of them a chance is weighed by how often a player comes. Own choice."""

DAYS_PER_MONTH = 365.25 / 12.0


def share_of_looks(stream: tuple[str, ...]) -> pl.Expr:
    """How often a player comes, as a share of three times a week: by the last twelve sessions, within 1/3 and 1.

    Parameters
    ----------
    stream : tuple of str
        Columns that name one stream.

    Returns
    -------
    polars.Expr
        Over one row a stream and day, with on_date, in order; 1 where fewer came before.

    Notes
    -----
    With one limit for all, who comes once a week has a third as many false alerts a month, and lets as much be missed.

    Source: own rule
    Checked: tests/unit/test_looks.py
    """
    days = (pl.col("on_date") - pl.col("on_date").shift(LOOKS_BACK).over(stream)).dt.total_days()
    return (LOOKS_BACK * DAYS_PER_MONTH / LOOKS_A_MONTH / days).clip(LEAST_LOOKS, 1.0).fill_null(1.0)
