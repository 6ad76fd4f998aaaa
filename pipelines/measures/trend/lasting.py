"""What lasts: the level now against the first normal and against a year ago, whatever has become of the flags meanwhile."""

from __future__ import annotations

import datetime as dt

import polars as pl

from schemas.trend_metrics import RELATIVE

FOLLOWED: tuple[str, ...] = ("club_speed_mps", "scatter_side_m", "scatter_long_m", "wild_pct", "aim_deg")
"""Quantities whose lasting differences are listed: those of which a flag may close because what it told has lasted."""

YEAR_DAYS, YEAR_REACH_DAYS, NOW_DAYS, APART_DAYS = 365, 90, 60, 84
"""The level of a year before may be up to so many days older; now is at most 60 days old; less than 12 weeks apart nothing is
said."""

_KEY = ("player_id", "club_group", "metric")
_READ = (*_KEY, "session_id", "on_date", "level", "level_low", "level_high", "worthwhile")


def lasting_differences(points: pl.DataFrame, as_of: dt.date) -> pl.DataFrame:
    """Total change of the level since the first normal, and since a year ago.

    Parameters
    ----------
    points : polars.DataFrame
        Rows of ``trend_point``.
    as_of : datetime.date

    Returns
    -------
    polars.DataFrame
        Rows of ``lasting_difference``: one for each player, group of clubs, quantity and comparison that can be made.

    Notes
    -----
    ``100 ln(now / then)``, of a share and of an angle ``now - then``, with the 90 % interval of both levels together, taken as
    independent: they are twelve weeks apart or more. Of an interval that ends at what is possible (no wild shot at all) the
    longer side counts. A year ago is a year before the session that tells the level now. The first normal is the level after
    the first session that is not learning. It lasts where the interval leaves 0 out and the change is at least the smallest
    worthwhile one.

    Source: own rule
    Checked: tests/unit/test_lasting.py
    """
    all_points = points.filter(pl.col("metric").is_in(FOLLOWED), pl.col("series") == "", pl.col("on_date") <= as_of)
    kept = all_points.filter(pl.col("state") != "learning").select(_READ)
    now = _last(kept.filter(pl.col("on_date") > as_of - dt.timedelta(days=NOW_DAYS)))
    begun = kept.group_by(_KEY).agg(pl.col("on_date").min())
    first = _sorted(kept.join(begun, on=[*_KEY, "on_date"], how="semi")).group_by(_KEY, maintain_order=True).first()
    year = pl.col("now_on") - pl.duration(days=YEAR_DAYS)
    before = kept.join(now.select(*_KEY, now_on="on_date"), on=list(_KEY), maintain_order="left")
    ago = _last(before.filter(pl.col("on_date").is_between(year - pl.duration(days=YEAR_REACH_DAYS), year)).drop("now_on"))
    # a point's own n is that of its shots, and its level rests on learning sessions too
    days = all_points.select(*_KEY, day="on_date")
    return pl.concat([_against(days, now, first, "first"), _against(days, now, ago, "year")]).sort(*_KEY, "against")


def _sorted(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.sort(*_KEY, "on_date", "session_id")


def _last(rows: pl.DataFrame) -> pl.DataFrame:
    return _sorted(rows).group_by(_KEY, maintain_order=True).last()


def _n_sessions(days: pl.DataFrame, at: pl.DataFrame, name: str) -> pl.DataFrame:
    """Sessions of the twelve weeks up to the day of each level, which it rests on most."""
    since, last = at.select(pl.col("on_date").min() - pl.duration(days=APART_DAYS), last=pl.col("on_date").max()).row(0)
    days = days.filter(pl.col("day").is_between(pl.lit(since), pl.lit(last), closed="right"))
    until = days.join(at.select(*_KEY, until="on_date"), on=_KEY)
    near = until.filter(pl.col("day") <= pl.col("until"), pl.col("day") > pl.col("until") - pl.duration(days=APART_DAYS))
    return near.group_by(_KEY).agg(pl.len().cast(pl.Int64).alias(name))


def _against(days: pl.DataFrame, now: pl.DataFrame, then: pl.DataFrame, against: str) -> pl.DataFrame:
    both = now.join(then, on=_KEY, suffix="_then", maintain_order="left").filter(
        (pl.col("on_date") - pl.col("on_date_then")) >= pl.duration(days=APART_DAYS)
    )
    ratio, less = pl.col("level") / pl.col("level_then"), pl.col("level") - pl.col("level_then")
    change = pl.when(_RELATIVE).then(100.0 * ratio.log()).otherwise(less)
    half = (_half("") ** 2 + _half("_then") ** 2).sqrt()
    measured = both.with_columns(change.alias("change"), half.alias("half"))
    measured = measured.join(_n_sessions(days, then, "n_then"), on=_KEY, how="left", maintain_order="left")
    measured = measured.join(_n_sessions(days, now, "n_now"), on=_KEY, how="left", maintain_order="left")
    clear = (pl.col("change").abs() > pl.col("half")) & (pl.col("change").abs() >= pl.col("worthwhile"))
    return measured.select(
        *_KEY,
        pl.lit(against).alias("against"),
        pl.col("on_date_then").alias("then_on"),
        pl.col("level_then").alias("then_level"),
        pl.col("on_date").alias("now_on"),
        pl.col("level").alias("now_level"),
        "change",
        (pl.col("change") - pl.col("half")).alias("change_low"),
        (pl.col("change") + pl.col("half")).alias("change_high"),
        "n_then",
        "n_now",
        "worthwhile",
        clear.alias("lasts"),
    )


_RELATIVE = pl.col("metric").is_in(RELATIVE)


def _half(suffix: str) -> pl.Expr:
    """Half of the interval of a level [change unit]."""
    low, level, high = (pl.col(f"{name}{suffix}") for name in ("level_low", "level", "level_high"))
    return pl.when(_RELATIVE).then(50.0 * (high / low).log()).otherwise(pl.max_horizontal(high - level, level - low))
