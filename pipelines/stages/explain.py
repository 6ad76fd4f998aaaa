"""Flags as they stand or stood on a night, and the walk from one flag to the numbers, the sessions, the files and lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.measures.flags.history import flags_as_of
from pipelines.measures.flags.rules import RULES, Rule
from warehouse.connection import frame
from warehouse.flags import event_rows, events_of_flag, flag_rows, origins, told_now, visible_flag

if TYPE_CHECKING:
    from datetime import date

    import duckdb


@dataclass(frozen=True)
class FlagQuery:
    """Which flags to list.

    Attributes
    ----------
    closed_too : bool
        Not only those open on the night.
    player_id : str
        Empty: all players, and devices.
    since_on : datetime.date or None
        Raised on this day or later.
    on : datetime.date or None
        As they stood that night; None: as they stand.
    reader : {"", "coach", "physio"}
        Only flags that this reader may see; empty: all.
    """

    closed_too: bool = False
    player_id: str = ""
    since_on: date | None = None
    on: date | None = None
    reader: str = ""


def listed_flags(con: duckdb.DuckDBPyConnection, query: FlagQuery) -> pl.DataFrame:
    """Flags by raised_on and id, with all columns of the table ``flag`` and of :func:`warehouse.flags.told_now`.

    A night in the past is read from the log of events: level, evidence and closing are those that were known then, and what has
    become of the value since is not told.
    """
    flags, told = flag_rows(con), told_now(con)
    if query.on is not None:
        flags = flags_as_of(flags, event_rows(con), query.on)
        told = told.with_columns(pl.lit(None).alias(name) for name in told.columns if name.startswith("now_"))
    flags = flags.join(told, on="flag_id", how="left", maintain_order="left").with_columns(
        said_on=pl.coalesce("alerted_on", "raised_on")
    )
    wanted = pl.col("audience").is_in([query.reader, "both"]) if query.reader else pl.lit(value=True)
    if not query.closed_too:
        wanted &= pl.col("closed_on").is_null()
    if query.player_id:
        wanted &= pl.col("player_id") == query.player_id
    if query.since_on is not None:
        wanted &= pl.col("raised_on") >= query.since_on
    return flags.filter(wanted)


@dataclass(frozen=True)
class Explanation:
    """Everything behind one flag.

    Attributes
    ----------
    flag : dict
        Its row, with the columns of :func:`warehouse.flags.told_now` and said_on.
    rule : Rule
        When flags of this kind open and close, in words.
    events : polars.DataFrame
        What happened to it, in order.
    points : polars.DataFrame
        Trend points of its sources (value, own normal, chart, chance); empty for kinds that do not rest on trends.
    norms : dict or None
        What the squad took for usual on the night.
    origins : polars.DataFrame
        Files and lines of its sources.
    """

    flag: dict[str, Any]
    rule: Rule
    events: pl.DataFrame
    points: pl.DataFrame
    norms: dict[str, Any] | None
    origins: pl.DataFrame


def explained(con: duckdb.DuckDBPyConnection, flag_id: str, reader: str = "") -> Explanation:
    """From a flag to where it comes from.

    Parameters
    ----------
    con : duckdb connection
    flag_id : str
    reader : {"", "coach", "physio"}
        Who asks; empty: somebody who may see every flag.

    Raises
    ------
    NotFoundError
        When there is no such flag, or none that this reader may see.
    """
    flag = visible_flag(con, flag_id, reader)
    flag |= told_now(con, flag_id).row(0, named=True) | {"said_on": flag["alerted_on"] or flag["raised_on"]}
    return Explanation(
        flag, RULES[flag["kind"]], events_of_flag(con, flag_id), _points(con, flag), _norms(con, flag), origins(con, flag)
    )


def _points(con: duckdb.DuckDBPyConnection, flag: dict[str, Any]) -> pl.DataFrame:
    rows = frame(
        con,
        "select * from trend_point where list_contains(?, session_id) and metric = ? order by on_date, session_id, player_id",
        [list(flag["sources"]), flag["metric"]],
    )
    for name in ("player_id", "club_group"):
        rows = rows.filter(pl.col(name) == flag[name]) if flag[name] else rows
    return rows


def _norms(con: duckdb.DuckDBPyConnection, flag: dict[str, Any]) -> dict[str, Any] | None:
    rows = frame(
        con,
        "select * from trend_norm where metric = ? and club_group = ? and from_on <= ? order by from_on desc limit 1",
        [flag["metric"], flag["club_group"], flag["alerted_on"] or flag["raised_on"]],
    )
    return rows.row(0, named=True) if rows.height else None
