"""The rule that a device is suspected when players move together on it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl

from pipelines.measures.device.results import DeviceShift
from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA, candidates

HELD_DAYS = 14
"""So long after it was found the alerts of its players wait at most; sooner where it is told that the players moved."""

_WANTED = ("player_id", "on_date", "kind", "metric", "device_id", "opens", "holds", "certain", "strength")
_NUMBERS = ("value", "baseline", "low", "high", "n", "reasons", "sources")


def device_candidates(shifts: tuple[tuple[str, DeviceShift], ...]) -> pl.DataFrame:
    """Candidates of ``device_shift``.

    Parameters
    ----------
    shifts : tuple of (str, DeviceShift)
        Quantity and shift; value is the mean move [%], baseline 0.

    Source: own rule
    Checked: tests/unit/test_device_monitor.py
    """
    rows = [row for metric, shift in shifts for row in _rows(metric, shift)]
    schema = {name: CANDIDATE_SCHEMA[name] for name in (*_WANTED, *_NUMBERS)}
    return candidates(pl.DataFrame(rows, schema=schema))


def _rows(metric: str, shift: DeviceShift) -> list[dict[str, Any]]:
    found: dict[str, Any] = {
        "player_id": "",
        "on_date": shift.found_on,
        "kind": "device_shift",
        "metric": metric,
        "device_id": shift.device_id,
        "opens": True,
        "holds": True,
        "certain": True,
        "strength": shift.sum / 2.0,
        "value": shift.amount,
        "baseline": 0.0,
        "low": shift.amount - 1.645 * shift.error,
        "high": shift.amount + 1.645 * shift.error,
        "n": shift.n_sessions,
        "reasons": [
            f"players={shift.n_players}",
            f"earliest={shift.dated.earliest_on.isoformat()}",
            f"latest={shift.dated.latest_on.isoformat()}",
            f"move={shift.amount:.2f}",
            f"cause:{shift.cause if shift.told_on == shift.found_on else 'unclear'}",
        ],
        "sources": list(shift.session_ids),
    }
    latest = shift.found_on + dt.timedelta(days=HELD_DAYS)
    until = min(max(shift.told_on, shift.found_on + dt.timedelta(days=1)), latest) if shift.cause == "players" else latest
    over = [*found["reasons"][:-1], f"closed:{shift.cause if shift.told_on <= until else 'unclear'}"]
    rows = [found, found | {"on_date": until, "opens": False, "holds": False, "reasons": over}]
    if shift.found_on < shift.told_on < until:
        told = [*rows[0]["reasons"][:-1], f"cause:{shift.cause}"]
        rows.insert(1, found | {"on_date": shift.told_on, "opens": False, "reasons": told})
    return rows
