"""The rule that a device is suspected when players move together on it."""

from __future__ import annotations

import datetime as dt

import polars as pl

from pipelines.measures.device.monitor import DeviceShift
from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA, candidates

LEARNED_DAYS = 21
"""So long after it was found the new offset is taken as learned, and the flag closes."""

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


def _rows(metric: str, shift: DeviceShift) -> list[dict[str, object]]:
    found = {
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
        "reasons": [f"players={shift.n_players}", f"began={shift.began_on.isoformat()}", f"move={shift.amount:.2f}"],
        "sources": list(shift.session_ids),
    }
    over = {"on_date": shift.found_on + dt.timedelta(days=LEARNED_DAYS), "opens": False, "holds": False}
    return [found, found | over]
