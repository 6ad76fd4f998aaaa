"""What a rule hands to the engine: one row per night on which it has something to say about one stream.

A stream is what a rule follows: one player, kind, metric, region, club group and device. A row is due whenever the rule opens or
holds, on the first night with new data on which it no longer holds, and whenever its p-value is of interest for the list. A night
without a row says nothing new: the stream stays as it was.

``strength`` is on one scale for all kinds: about minus the decimal logarithm of the chance to see as much when nothing has
changed (2: look, 4: strong); a fact chooses a number on that scale.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    pass

STREAM: tuple[str, ...] = ("player_id", "kind", "metric", "region", "club_group", "device_id")
"""Columns that name a stream; empty text where one does not apply."""

CANDIDATE_SCHEMA: dict[str, pl.DataType] = {
    "player_id": pl.String(),  # empty: about a device, not about a player
    "on_date": pl.Date(),  # the night; everything in the row was known by then
    "kind": pl.String(),
    "metric": pl.String(),
    "region": pl.String(),
    "club_group": pl.String(),
    "device_id": pl.String(),  # device of tonight's sessions, when there was one only
    "opens": pl.Boolean(),  # the opening condition of the rule holds tonight
    "holds": pl.Boolean(),  # the condition to stay open holds tonight
    "certain": pl.Boolean(),  # a fact, not an inference: no false-discovery control
    "p_value": pl.Float64(),  # of an inference
    "n_streams": pl.Int64(),  # streams of this kind and player that were tested this week (default: those with a row)
    "n_players": pl.Int64(),  # players who were tested for this kind this week (default: those with a row)
    "strength": pl.Float64(),  # larger comes first when the alert budget is short
    "value": pl.Float64(),
    "baseline": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "n": pl.Int64(),
    "reasons": pl.List(pl.String()),
    "sources": pl.List(pl.String()),  # session ids, or checkin:DATE, plan:DATE
}

_DEFAULTS: dict[str, pl.Expr] = {
    "metric": pl.lit(""),
    "region": pl.lit(""),
    "club_group": pl.lit(""),
    "device_id": pl.lit(""),
    "certain": pl.lit(value=False),
    "strength": pl.lit(0.0),
    "reasons": pl.lit([], dtype=pl.List(pl.String())),
    "sources": pl.lit([], dtype=pl.List(pl.String())),
}


def candidates(rows: pl.DataFrame) -> pl.DataFrame:
    """The frame with every column of the contract, in its order; columns that a rule does not need may be left out.

    Parameters
    ----------
    rows : polars.DataFrame
        At least player_id, on_date, kind, opens, holds.

    Returns
    -------
    polars.DataFrame
        Schema ``CANDIDATE_SCHEMA``; texts, truths and lists without null; other columns that were left out are null.

    Raises
    ------
    ValueError
        When a required column is missing or a column is unknown.
    """
    missing = {"player_id", "on_date", "kind", "opens", "holds"} - set(rows.columns)
    unknown = set(rows.columns) - set(CANDIDATE_SCHEMA)
    if missing or unknown:
        raise ValueError(f"candidates: missing columns {sorted(missing)}, unknown columns {sorted(unknown)}")
    return rows.select(_column(name, dtype, present=name in rows.columns) for name, dtype in CANDIDATE_SCHEMA.items())


def _column(name: str, dtype: pl.DataType, *, present: bool) -> pl.Expr:
    default = _DEFAULTS.get(name)
    value = pl.col(name) if present else pl.lit(None)
    filled = value.cast(dtype) if default is None else value.cast(dtype).fill_null(default)
    return filled.alias(name)
