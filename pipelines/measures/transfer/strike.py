"""What a strike off the middle costs a player: their own loss over that of a rigid head, else the published range."""

from __future__ import annotations

import polars as pl

from pipelines.measures.grouping import by_group

PUBLISHED_FACTOR, PUBLISHED_FACTOR_ERROR = 1.75, 0.144
"""Measured losses are 1.5 to 2 times those of a rigid head: the middle, and the standard deviation of an even spread between."""
FEWEST_STRIKES, LARGEST_ERROR = 100, 0.3
"""Own choices: strikes, and standard error, from which the player's own factor is used."""
FACTOR_LIMITS = (0.5, 3.5)
"""Own choice: a factor beyond these says more of the device than of the club."""
WIDEST_SHARE = 0.15
"""Shots whose speed ratio is farther from their session's are misread and teach nothing: own choice."""

SOURCES: dict[str, str] = {
    "own": "measured on the player's own strikes with this club",
    "too_few": "published: fewer than 100 own strikes with this club",
    "unclear": "published: the own strikes do not tell it closely enough",
}


def strike_sums(shots: pl.DataFrame) -> pl.DataFrame:
    """What the strikes of a month tell of their loss, by player, club and month: of each by itself.

    Parameters
    ----------
    shots : polars.DataFrame
        player_id, club, month_on, session_id, speed_ratio and rigid_loss (share of ball speed that the strike would cost a rigid
        head); null where the strike was not measured.

    Returns
    -------
    polars.DataFrame
        player_id, club, month_on, and the sums that :func:`strike_factors` reads; a row for each month with shots.

    Notes
    -----
    Source: own rule. Checked: tests/property/test_transfer.py.
    """
    within = ["player_id", "club", "session_id"]
    share = pl.col("speed_ratio") / pl.col("speed_ratio").mean().over(within)
    struck = (
        shots.filter(pl.col("rigid_loss").is_not_null(), pl.col("speed_ratio") > 0.0)
        .filter((pl.col("speed_ratio") / pl.col("speed_ratio").median().over(within) - 1.0).abs() < WIDEST_SHARE)
        .with_columns((share - 1.0).alias("y"), (pl.col("rigid_loss") - pl.col("rigid_loss").mean().over(within)).alias("x"))
    )
    sums = by_group(struck, list(_MONTH)).agg(
        pl.len().cast(pl.Int64).alias("strike_n"),
        pl.col("session_id").n_unique().cast(pl.Int64).alias("strike_sessions"),
        pl.col("rigid_loss").sum().alias("strike_loss_sum"),
        (pl.col("x") ** 2).sum().alias("strike_xx"),
        (pl.col("x") * pl.col("y")).sum().alias("strike_xy"),
        (pl.col("y") ** 2).sum().alias("strike_yy"),
    )
    every = shots.select(_MONTH).unique()
    return every.join(sums, on=list(_MONTH), how="left").with_columns(pl.col(_SUMS).fill_null(0)).sort(_MONTH)


_MONTH = ("player_id", "club", "month_on")
_SUMS = ("strike_n", "strike_sessions", "strike_loss_sum", "strike_xx", "strike_xy", "strike_yy")


def strike_factors(months: pl.DataFrame) -> pl.DataFrame:
    """Loss of ball speed off the middle over that of a rigid head, by player, club and month, from all strikes up to its end.

    Parameters
    ----------
    months : polars.DataFrame
        From :func:`strike_sums`, of all months of each player and club up to the last that is asked for.

    Returns
    -------
    polars.DataFrame
        player_id, club, month_on, strike_factor, strike_factor_error, strike_factor_source (of :data:`SOURCES`) and
        strike_factor_n (strikes so far); a row for each month with shots.

    Notes
    -----
    Within sessions the speed ratio over its mean is ``(1 - f L)/(1 - f mean(L))`` with L the rigid loss; so its slope is
    ``b = -f/(1 - f mean(L))``, and ``f = -b/(1 - b mean(L))``. Days and devices fall out, as each session is compared with
    itself. Errors of the strike's place draw f toward 0: by 1 % at 0.7 mm. Fewer than 100 strikes, a standard error above 0.3
    or a factor outside 0.5 to 3.5: the published range stands in. Source: [Penner2003] for the loss; the range is second-hand.
    Checked: tests/property/test_transfer.py.
    """
    so_far = months.sort(_MONTH).select(*_MONTH, *(pl.col(name).cum_sum().over("player_id", "club") for name in _SUMS))
    n, sessions, loss, xx, xy, yy = (pl.col(name) for name in _SUMS)
    slope, mean = xy / xx, loss / n
    error = ((yy - slope * xy) / (n - sessions - 1) / xx).sqrt()
    return (
        so_far.with_columns((-slope / (1.0 - slope * mean)).alias("own"), error.alias("own_error"))
        .with_columns(_source())
        .select(
            *_MONTH,
            _chosen("own", PUBLISHED_FACTOR).alias("strike_factor"),
            _chosen("own_error", PUBLISHED_FACTOR_ERROR).alias("strike_factor_error"),
            "strike_factor_source",
            n.alias("strike_factor_n"),
        )
    )


def _source() -> pl.Expr:
    clear = (pl.col("own_error") <= LARGEST_ERROR) & pl.col("own").is_between(*FACTOR_LIMITS)
    return (
        pl.when(pl.col("strike_n") < FEWEST_STRIKES)
        .then(pl.lit("too_few"))
        .when(clear.fill_null(value=False))
        .then(pl.lit("own"))
        .otherwise(pl.lit("unclear"))
        .alias("strike_factor_source")
    )


def _chosen(own: str, published: float) -> pl.Expr:
    return pl.when(pl.col("strike_factor_source") == "own").then(pl.col(own)).otherwise(published)
