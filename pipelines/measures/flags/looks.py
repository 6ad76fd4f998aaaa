"""How often a player is looked at: what one look says by chance, it says as often a month as there are looks."""

from __future__ import annotations

import polars as pl

from pipelines.measures.trend.observations import SCATTERS

LOOKS_A_MONTH, LOOKS_BACK, LEAST_LOOKS = 13.0, 12, 1.0 / 3.0
"""Sessions a month of those on whom limits were chosen, three a week; over how many sessions they are counted; and down to what
share of them a chance is weighed by how often a player comes. Own choice."""

STEEP_SHARE = (0.1, 0.6)
"""Share of a chance that steep sums may use up: of one who comes three times a week, and of one who comes seldom; by the inverse
square of how often a player comes between.

Calibrated: own simulation (tests/benchmarks/detection, seeds 2150 to 2158, 2190 and 2191)
"""

SELDOM = 0.5
"""Share of three looks a week below which the chance of a shift counts for less by its square too: a false alert a month would be
as likely for all without that, but few sessions tell less a month.

Calibrated: likewise
"""

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


def weight_of_shift() -> pl.Expr:
    """What the chance of a shift or a stall is weighed by: the share of looks; below a half also the square of twice the share.

    Notes
    -----
    A weight that is fixed beforehand, by how often a player comes. One limit for a month lets as much chance pass of a player who
    comes once a week as of others, and tells fewer of that player's falls and stalls, since there is less to tell them by.

    Source: [GenoveseRoederWasserman2006]
    Checked: tests/unit/test_looks.py
    """
    return pl.col("looks") * (pl.col("looks") / SELDOM).clip(0.0, 1.0) ** 2


def with_both_sums(streams: pl.DataFrame) -> pl.DataFrame:
    """Charts whose chance is that of the sum or of the steep sum, whichever is smaller, each over its share.

    Parameters
    ----------
    streams : polars.DataFrame
        metric, p_chart_up, p_chart_down, p_steep_up, p_steep_down, looks.

    Returns
    -------
    polars.DataFrame
        With another p_chart_up and p_chart_down; null where a point has none.

    Notes
    -----
    ``min(p / (1 - w), p_steep / w)``, with w .1 for one who comes three times a week and up to .6 for one who comes seldom: by
    chance it is as small as often as it says, at most. Who comes once a week has fallen by two standard deviations before four
    sessions have told of it, and those the steep sum finds first. Weights are fixed before what they weigh is seen. That a
    pattern has become narrower is told by the first sum alone: few shots lie near each other by chance more often than a normal
    distribution of the logarithm has it (scores at -2: .036 and .042 of sessions, for .023).

    Source: [GenoveseRoederWasserman2006]
    Checked: tests/unit/test_looks.py
    """
    usual, seldom = STEEP_SHARE
    share = (usual / pl.col("looks") ** 2).clip(usual, seldom)
    narrower = pl.col("metric").is_in(list(SCATTERS))
    both = {
        side: pl.min_horizontal(pl.col(f"p_chart_{side}") / (1.0 - share), pl.col(f"p_steep_{side}") / share).clip(0.0, 1.0)
        for side in ("up", "down")
    }
    down = pl.when(narrower).then("p_chart_down").otherwise(both["down"])
    return streams.with_columns(both["up"].alias("p_chart_up"), down.alias("p_chart_down"))
