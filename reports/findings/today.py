"""What stands on the first page: open flags by player, what asks most first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.order import GOOD, is_waiting, mark_of, reading_order, told_within, weight
from schemas.natural_order import natural_key

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
        Further open flags of the same player, those that ask most first.
    within : tuple of dict
        Open flags whose story one of the former tells as well.
    weight : float
        How much it asks for attention: that of its leading flag, and a tenth of the others.
    """

    lead: Row
    others: tuple[Row, ...]
    weight: float
    within: tuple[Row, ...] = ()

    @property
    def who(self) -> str:
        """The player's name, or the device."""
        return str(self.lead.get("alias") or self.lead.get("device_id") or "")

    @property
    def is_waiting(self) -> bool:
        """Whether something of it waits for a decision; good news waits for none."""
        rows = (self.lead, *self.others)
        return any(is_waiting(row) and mark_of(row) != "good" for row in rows)

    @property
    def mark(self) -> str:
        """The strongest mark of all that is open: a notice that leads does not hide an alert."""
        marks = {mark_of(row) for row in (self.lead, *self.others, *self.within)}
        return next(name for name in ("alert", "notice", "good") if name in marks)


def messages(flags: pl.DataFrame, *, body_first: bool) -> list[Message]:
    """One message for each player (or device) with open flags, by how much it asks for attention.

    A gain that is a notice asks the physio for nothing: where it is all that is open, it stands on the player's page only.
    """
    groups: dict[str, list[Row]] = {}
    for row in flags.filter(pl.col("closed_on").is_null()).iter_rows(named=True):
        groups.setdefault(row["player_id"] or f"device:{row['device_id']}", []).append(row)
    found = [_message(reading_order(rows, body_first=body_first), body_first) for rows in groups.values()]
    if body_first:
        found = [message for message in found if message.mark != "notice" or message.lead["kind"] not in GOOD]
    return sorted(found, key=lambda message: (-message.weight, natural_key(message.who), message.lead["flag_id"]))


def _message(rows: list[Row], body_first: bool) -> Message:
    """Two findings that tell one story are one, as heavy as the heavier; it can wait once the one that is told is decided."""
    within = tuple(row for row in rows if told_within(row, rows))
    told = [row for row in rows if row not in within]
    heavy = {row["flag_id"]: _weight_with(row, within, body_first) for row in told}
    told.sort(key=lambda row: -heavy[row["flag_id"]])  # a stable sort: equal ones stand as they were
    first, *rest = (heavy[row["flag_id"]] for row in told)
    return Message(told[0], tuple(told[1:]), first + 0.1 * sum(rest), within)


def _weight_with(row: Row, within: tuple[Row, ...], body_first: bool) -> float:
    said = {name: row.get(name) for name in ("decision", "decision_state")}
    alike = [one | said for one in within if told_within(one, [row])]
    return max(weight(one, body_first=body_first) for one in (row, *alike))


def new_since(flags: pl.DataFrame, day: date) -> pl.DataFrame:
    """Flags raised, or raised to an alert, on that day or later."""
    return flags.filter((pl.col("raised_on") >= day) | (pl.col("alerted_on") >= day).fill_null(value=False))


def closed_since(flags: pl.DataFrame, day: date) -> pl.DataFrame:
    """Flags closed on that day or later."""
    return flags.filter(pl.col("closed_on") >= day)
