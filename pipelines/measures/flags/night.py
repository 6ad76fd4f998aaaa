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
        Joint over the streams; None when no stream has one.
    closing : str
        Reason for which a stream asks to close it; empty: none does.
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
    closing: str
    n_players: int


def key_of(row: Row, rule: Rule) -> Key:
    """The flag to which the row of a stream belongs."""
    return (row["player_id"], row["kind"], *(row[name] for name in rule.apart_by))


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
        closing=_closing(rows),
        n_players=max(row["n_players"] or 0 for row in rows),
    )


def _closing(rows: list[Row]) -> str:
    named = (reason.removeprefix("closed:") for row in rows for reason in row["reasons"] if reason.startswith("closed:"))
    return next(named, "")


def _joint(rows: list[Row]) -> float | None:
    p_values = [row["p_value"] for row in rows if row["p_value"] is not None]
    if not p_values:
        return None
    tested = max(*(row["n_streams"] or 0 for row in rows), len(p_values))
    return joint_p_value(np.array(p_values), tested)
