"""What stands on the first page: open flags by player, the most important first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

if TYPE_CHECKING:
    from datetime import date

Row = dict[str, Any]


@dataclass(frozen=True)
class Message:
    """One player's message: the flag that leads, and what else is open.

    Attributes
    ----------
    lead : dict
        Row of ``mart_flag``.
    others : tuple of dict
        Further open flags of the same player, strongest first.
    """

    lead: Row
    others: tuple[Row, ...]


def _rank(row: Row) -> tuple[bool, float, str]:
    return (row["level"] != "alert", -(row["strength"] or 0.0), row["flag_id"])


def messages(flags: pl.DataFrame) -> list[Message]:
    """One message for each player (or device) with open flags: alerts first, then by strength."""
    groups: dict[str, list[Row]] = {}
    for row in flags.filter(pl.col("closed_on").is_null()).iter_rows(named=True):
        groups.setdefault(row["player_id"] or f"device:{row['device_id']}", []).append(row)
    ordered = [sorted(rows, key=_rank) for rows in groups.values()]
    found = [Message(rows[0], tuple(rows[1:])) for rows in ordered]
    return sorted(found, key=lambda message: _rank(message.lead))


def new_since(flags: pl.DataFrame, day: date) -> pl.DataFrame:
    """Flags raised, or raised to an alert, on that day or later."""
    return flags.filter((pl.col("raised_on") >= day) | (pl.col("alerted_on") >= day).fill_null(value=False))


def closed_since(flags: pl.DataFrame, day: date) -> pl.DataFrame:
    """Flags closed on that day or later."""
    return flags.filter(pl.col("closed_on") >= day)
