"""What one night says of each possible flag: the rows of its streams taken together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pipelines.measures.flags.discovery import joint_p_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from pipelines.measures.flags.rules import Rule

Key = tuple[str, ...]
"""Player, kind, and the values of the columns that keep flags of that kind apart."""

Row = dict[str, Any]

HOLDS, OVER = "holds", "over"
"""What a stream says of a flag that is open: it holds it open, or no longer does; or the reason for which it asks to close it."""


@dataclass(frozen=True)
class Look:
    """One possible flag on one night.

    Attributes
    ----------
    key : tuple of str
    rule : Rule
    lead : dict
        The row that speaks for it: one that opens before one that holds, then the strongest.
    opens, holds, certain : bool
        Of any of its streams.
    p_value : float or None
        Joint over the streams that do not ask to close it; None when none has one.
    streams : dict of str to str
        What each stream of it said: ``HOLDS``, ``OVER``, or the reason for which it asks to close it.
    n_players : int
        Players who were tested for this kind; 0 when the rule does not say.
    """

    key: Key
    rule: Rule
    lead: Row
    opens: bool
    holds: bool
    certain: bool
    p_value: float | None
    streams: dict[str, str]
    n_players: int


def key_of(row: Row, rule: Rule) -> Key:
    """The flag to which the row of a stream belongs."""
    return (row["player_id"], row["kind"], *(row[name] for name in rule.apart_by))


def stream_of(row: Row) -> str:
    """The stream of a row within its flag: a player goes from one device to another, and the stream goes on."""
    return " ".join((row["metric"], row["region"], row["club_group"]))


def looks(rows: Iterable[Row], rules: Mapping[str, Rule]) -> list[Look]:
    """The night's rows by flag, ordered by key.

    Raises
    ------
    ValueError
        When a row is of a kind without a rule.
    """
    grouped: dict[Key, list[Row]] = {}
    for row in rows:
        if row["kind"] not in rules:
            raise ValueError(f"there is no rule for flags of kind {row['kind']!r}")
        grouped.setdefault(key_of(row, rules[row["kind"]]), []).append(row)
    return [_look(key, rules[key[1]], grouped[key]) for key in sorted(grouped)]


def _look(key: Key, rule: Rule, rows: list[Row]) -> Look:
    lead = max(rows, key=lambda row: (row["opens"], row["holds"], row["strength"]))
    return Look(
        key=key,
        rule=rule,
        lead=lead,
        opens=any(row["opens"] for row in rows),
        holds=any(row["holds"] for row in rows),
        certain=any(row["certain"] and row["opens"] for row in rows),
        p_value=_joint(rows),
        streams=_said_by_stream(rows),
        n_players=max(row["n_players"] or 0 for row in rows),
    )


def _said_by_stream(rows: list[Row]) -> dict[str, str]:
    """Of a stream that was on two devices in one night, whichever holds or names a reason speaks."""
    by_weight = sorted(rows, key=lambda row: (_said(row) == HOLDS, _said(row) != OVER))
    return {stream_of(row): _said(row) for row in by_weight}


def _said(row: Row) -> str:
    named = [reason.removeprefix("closed:") for reason in row["reasons"] if reason.startswith("closed:")]
    if named and not row["opens"]:
        return str(named[0])
    return HOLDS if row["opens"] or row["holds"] else OVER


def _joint(rows: list[Row]) -> float | None:
    """Over the streams that were tested; one that asks to close the flag speaks for no other."""
    p_values = [row["p_value"] for row in rows if row["p_value"] is not None and _said(row) in {HOLDS, OVER}]
    if not p_values:
        return None
    tested = max(*(row["n_streams"] or 0 for row in rows), len(p_values))
    return joint_p_value(np.array(p_values), tested)
