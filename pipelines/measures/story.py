"""The one record of each player from which every page says what it says, and what open flags would say today."""

from __future__ import annotations

import polars as pl

from pipelines.measures.flags.stated import share_still_likely
from pipelines.measures.strokes.months import newest_at_home

SPEED, DRIVER = "club_speed_mps", "driver"
STROKE_KINDS: tuple[str, ...] = ("speed_cost", "strokes_worse", "strokes_better")
"""Flags whose value is the change of strokes a round on the home course."""

TREND_KINDS: tuple[str, ...] = (
    "speed_fall",
    "speed_rise",
    "speed_stall",
    "scatter_rise",
    "scatter_fall",
    "wild_rise",
    "aim_shift",
)
"""Flags whose value is a level of a trend."""

_STREAM = ("player_id", "metric", "club_group")
_LEVEL = ("level", "level_low", "level_high", "change_28", "change_28_low", "change_28_high")
_NAMED = ("p_better", "p_trivial", "p_worse", "worthwhile", "usual_n", "state")
POINT_COLUMNS: tuple[str, ...] = (*_LEVEL, *_NAMED)
"""Columns of ``trend_point`` that a record holds, beside those that name the stream and the session."""
_LASTING = ("against", "then_on", "then_level", "change", "change_low", "change_high", "n_then", "n_now", "lasts")
_STROKES = ("month_on", "course", "change", "change_low", "change_high", "chance_cost")


def newest_levels(points: pl.DataFrame) -> pl.DataFrame:
    """The newest point of each player, quantity and group of clubs, of the series that its chart shows.

    Parameters
    ----------
    points : polars.DataFrame
        Rows of ``trend_point``.

    Notes
    -----
    The main series where there is one, else that with most sessions.
    """
    counted = points.group_by(*_STREAM, "series").len()
    ordered = counted.sort(*_STREAM, pl.col("series") != "", -pl.col("len").cast(pl.Int64), "series")
    shown = ordered.group_by(_STREAM, maintain_order=True).agg(pl.col("series").first())
    kept = points.join(shown, on=[*_STREAM, "series"], how="semi").sort(*_STREAM, "on_date", "session_id")
    return kept.group_by(_STREAM, maintain_order=True).last()


def player_stories(points: pl.DataFrame, lasting: pl.DataFrame, months: pl.DataFrame, homes: pl.DataFrame) -> pl.DataFrame:
    """One record for each player of whom driver speed or strokes are known.

    Parameters
    ----------
    points, lasting, months, homes : polars.DataFrame
        Rows of ``trend_point`` (of club speed at least), ``lasting_difference``, ``stroke_month`` and ``home_course``.

    Returns
    -------
    polars.DataFrame
        Rows of ``player_story``: level now and its change in 28 days; ``then_``: the level of a year ago, or where there is none
        the first normal, with total change; ``strokes_``: the newest month on the home course. Null where it is not known.

    Source: own rule
    Checked: tests/unit/test_story.py
    """
    speed = newest_levels(points.filter(pl.col("metric") == SPEED, pl.col("club_group") == DRIVER))
    now = speed.select("player_id", "on_date", *_LEVEL, *_NAMED)
    then = (
        lasting.filter(pl.col("metric") == SPEED, pl.col("club_group") == DRIVER)
        .sort("player_id", pl.col("against") != "year")
        .group_by("player_id", maintain_order=True)
        .first()
        .select("player_id", pl.col("now_on").alias("on_date"), *(_renamed(name, "then_") for name in _LASTING))
    )
    newest = newest_at_home(months, homes).select("player_id", *(_renamed(name, "strokes_") for name in _STROKES))
    told = now.join(then, on=["player_id", "on_date"], how="left")
    return told.join(newest, on="player_id", how="full", coalesce=True).sort("player_id")


def _renamed(name: str, prefix: str) -> pl.Expr:
    return pl.col(name).alias(name if name.startswith(prefix) else f"{prefix}{name}")


def newest_answers(answers: pl.DataFrame) -> pl.DataFrame:
    """The newest row of each player and item of which the last answers tell a mean; ``answers``: rows of ``body_day``."""
    told = answers.filter(pl.col("recent").is_not_null()).sort("player_id", "item", "on_date")
    return told.group_by("player_id", "item", maintain_order=True).last()


def sessions_since(points: pl.DataFrame, flags: pl.DataFrame) -> pl.DataFrame:
    """flag_id and n_sessions: days with a session of its quantity since an open notice was raised, where there is one.

    Parameters
    ----------
    points : polars.DataFrame
        Rows of ``trend_point``, all of some players.
    flags : polars.DataFrame
        Rows of ``flag``.

    Notes
    -----
    Counting only. Source: own rule. Checked: tests/unit/test_story.py
    """
    stands = flags.filter(pl.col("closed_on").is_null(), pl.col("level") == "notice").select("flag_id", "raised_on", *_STREAM)
    days = points.select(*_STREAM, "on_date").unique()
    later = stands.join(days, on=list(_STREAM)).filter(pl.col("on_date") > pl.col("raised_on"))
    return later.group_by("flag_id").agg(pl.len().cast(pl.Int64).alias("n_sessions")).sort("flag_id")


def flags_now(
    flags: pl.DataFrame,
    points: pl.DataFrame,
    months: pl.DataFrame,
    homes: pl.DataFrame,
    answers: pl.DataFrame,
    spans: pl.DataFrame,
    since: pl.DataFrame,
) -> pl.DataFrame:
    """What the value of each open flag is today, where the same quantity is followed from day to day.

    Parameters
    ----------
    flags : polars.DataFrame
        Rows of ``flag``.
    points, months, homes : polars.DataFrame
        As of :func:`player_stories`; points of the quantities of open flags.
    answers : polars.DataFrame
        Rows of ``body_day``.
    spans : polars.DataFrame
        kind, player_id, on_date, value of weeks that were far from the plan and of months in which the ball was asked for.
    since : polars.DataFrame
        flag_id, n_sessions: days with a session of the flag's quantity since the night on which it was raised.

    Returns
    -------
    polars.DataFrame
        flag_id, now_on, now_value, now_low, now_high: level of the trend, and change of strokes of the newest month on the home
        course, with their 90 % intervals; mean of the last answers, full swings of the newest week that was far from the plan and
        carry of the newest month, which have none. now_share: of a notice that no suspected device holds back, the share of what
        it called likely that still is (:func:`pipelines.measures.flags.stated.share_still_likely`).

    Source: own rule
    Checked: tests/unit/test_story.py
    """
    opened = flags.filter(pl.col("closed_on").is_null(), pl.col("player_id") != "")
    levels = newest_levels(points).select(*_STREAM, "on_date", now_value="level", now_low="level_low", now_high="level_high")
    of_trend = opened.filter(pl.col("kind").is_in(TREND_KINDS)).join(levels, on=list(_STREAM))
    months_now = newest_at_home(months, homes)
    ends = pl.col("month_on").dt.month_end()
    strokes = months_now.select("player_id", on_date=ends, now_value="change", now_low="change_low", now_high="change_high")
    of_strokes = opened.filter(pl.col("kind").is_in(STROKE_KINDS)).join(strokes, on="player_id")
    item = pl.when(pl.col("region") != "").then(pl.format("stiff_{}", pl.col("region"))).otherwise("metric")
    last = newest_answers(answers)
    of_body = opened.filter(pl.col("kind").is_in(["body_stiff", "body_fatigue"])).with_columns(item=item)
    of_body = of_body.join(last.select("player_id", "item", "on_date", now_value="recent"), on=["player_id", "item"])
    newest = spans.sort("kind", "player_id", "on_date").group_by("kind", "player_id", maintain_order=True).last()
    of_span = opened.join(newest.select("kind", "player_id", "on_date", now_value="value"), on=["kind", "player_id"])
    told = (of_trend, of_strokes, of_body, of_span)
    parts = [rows.select("flag_id", pl.col("on_date").alias("now_on"), pl.col("^now_(value|low|high)$")) for rows in told]
    suspected = flags.filter(pl.col("closed_on").is_null(), pl.col("kind") == "device_shift")["device_id"].to_list()
    waits = pl.col("level").eq("notice") & ~pl.col("device_id").fill_null("").is_in(suspected)
    sessions = pl.when(waits).then(pl.col("n_sessions").fill_null(0))
    shares = opened.join(since, on="flag_id", how="left").select(
        "flag_id", now_share=share_still_likely(pl.col("kind"), sessions)
    )
    return (
        pl.concat(parts, how="diagonal")
        .filter(pl.col("now_value").is_not_null())
        .unique("flag_id", maintain_order=True)
        .join(shares, on="flag_id", how="left")
        .sort("flag_id")
    )
