"""What the watch over devices knew when some days began, kept, so that only the days since then need be passed again."""

from __future__ import annotations

import base64
import datetime as dt
import zlib
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.device.dating import DatedMove
from pipelines.measures.device.ledger import Device, stands_alone
from pipelines.measures.device.moves import Move, Side, Usual
from pipelines.measures.device.results import DeviceShift
from pipelines.measures.device.window import OffsetInForce
from pipelines.measures.estimates import inputs_digest, kept_days, with_days

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pipelines.measures.device.ledger import Watch, Word

READ: tuple[str, ...] = ("row", "player_id", "club", "session_id", "on_date", "device_id", "x", "variance")
"""Columns of sessions that the watch reads."""

_ARRAYS: tuple[str, ...] = ("offsets", "shifted", "doubt")


class Memory:
    """Of one watch.

    Parameters
    ----------
    watch : Watch
        Before its first day.

    Attributes
    ----------
    begin_on : datetime.date
        The first day to pass.

    Notes
    -----
    What is known when a day begins rests on the sessions before it, on what persons had said by then of the shifts that had
    been found, and on nothing else: it is kept by the digest of the sessions, and holds only where they have said the same.

    Source: own rule. Checked: tests/unit/test_device_memory.py
    """

    def __init__(self, watch: Watch) -> None:
        self._watch, self._estimates = watch, watch.estimates
        self._since = len(watch.estimates.asked)
        self.begin_on: dt.date = watch.rows["on_date"][0]
        last_on: dt.date = watch.rows["on_date"][-1]
        self._digests = {day: self._digest(day) for day in kept_days(last_on) if day > self.begin_on}

    def recalled(self) -> dt.date | None:
        """Put into the watch what it knew when the newest known day began; the day of its last comparison, None: nothing."""
        newest = self._estimates.newest(self._digests, self._said_the_same)
        if newest is None:
            return None
        self.begin_on, known = newest
        _recall(self._watch, known)
        self._digests = {day: digest for day, digest in self._digests.items() if day > self.begin_on}
        return dt.date.fromisoformat(known["compared_on"])

    def note(self, on: dt.date, compared_on: dt.date) -> None:
        """Keep what is known before a day, where one to be kept has begun by then."""
        for day in [day for day in self._digests if day <= on]:
            known = _known(self._watch, day) | {"compared_on": compared_on}
            self._estimates.keep(self._digests.pop(day), known, self._since)

    def _digest(self, day: dt.date) -> str:
        before, ratios = pl.col("on_date") < day, self._watch.ratios
        rows = self._watch.rows.select(READ[1:]).filter(before)
        beside = None if ratios is None else inputs_digest("ratios", ratios.select(READ[1:]).filter(before), None)
        return inputs_digest("watch", rows, (self._watch.scale, beside))

    def _said_the_same(self, known: dict[str, Any]) -> bool:
        """Whether persons have said by then what they had said when it was kept."""
        last, heard = dt.date.fromisoformat(known["last_on"]), dict(known["heeded"])
        for number, shift in enumerate(known["shifts"]):
            found_on = dt.date.fromisoformat(shift["found_on"])
            word = self._watch.said(shift["device_id"], found_on)
            is_heeded = word is not None and word[1] < last and found_on < last
            if (_plain(word) if is_heeded and word else None) != heard.get(number):
                return False
        return True


def _plain(word: Word) -> list[str]:
    return [word[0], word[1].isoformat()]


def _known(watch: Watch, day: dt.date) -> dict[str, Any]:
    """What the watch knows before a day, as JSON can hold it."""
    rows = watch.rows.filter(pl.col("on_date") < day)
    at = rows["row"].to_numpy()
    of_rows = [watch.series[row] for row in at.tolist()]
    names = sorted(set(of_rows))
    numbers = {name: number for number, name in enumerate(names)}
    codes = np.array([numbers[name] for name in of_rows], dtype=np.int32)
    return {
        "last_on": rows["on_date"][-1],
        "devices": {name: asdict(device) for name, device in watch.devices.items()},
        "usual": [[*key, vars(usual)] for key, usual in watch.usual.items()],
        "in_force": [asdict(one) for one in watch.in_force],
        "shifts": [asdict(one) for one in watch.shifts],
        "dates": [asdict(one) for one in watch.dates],
        "taken": watch.taken,
        "of_ratio": sorted(watch.of_ratio),
        "heeded": [[number, _plain(word)] for number, word in watch.heeded.items()],
        "names": names,
        "series": _packed(codes),
        "apart": _packed(watch.apart[at]),
        **{name: _packed(getattr(watch, name)[at]) for name in _ARRAYS},
    }


def _recall(watch: Watch, known: dict[str, Any]) -> None:
    """Put what was known into a watch that has passed no day."""
    codes = _unpacked(known["series"], np.int32)
    rows = watch.rows.head(codes.size)
    at = rows["row"].to_numpy()
    for row, code in zip(at, codes, strict=True):
        watch.series[row] = known["names"][code]
    watch.apart[at] = _unpacked(known["apart"], np.bool_)
    for name in _ARRAYS:
        getattr(watch, name)[at] = _unpacked(known[name], np.float64)
    watch.devices.update({name: _device(one) for name, one in known["devices"].items()})
    watch.usual.update({(player_id, club): Usual(**usual) for player_id, club, usual in known["usual"]})
    watch.in_force.extend(OffsetInForce(**with_days(one, "from_on")) for one in known["in_force"])
    watch.shifts.extend(_shift(one) for one in known["shifts"])
    watch.dates.extend(_move_date(one) for one in known["dates"])
    watch.taken.extend(known["taken"])
    watch.of_ratio.update(known["of_ratio"])
    watch.heeded.update({number: (cause, dt.date.fromisoformat(on)) for number, (cause, on) in known["heeded"]})
    shared = [not known["names"][code] for code in codes]
    together = rows.filter(pl.Series(shared, dtype=pl.Boolean)).group_by("player_id", "club", maintain_order=True).agg("row")
    watch.seen.update({(player_id, club): numbers for player_id, club, numbers in together.iter_rows()})
    apart = rows.filter(~pl.Series(shared, dtype=pl.Boolean)).select("player_id", "club", "row")
    for player_id, club, row in apart.iter_rows():
        if not watch.usual[player_id, club].n:
            stands_alone(watch, (player_id, club), row)


def _side(one: dict[str, Any]) -> Side:
    return Side(one["total"], [Move(**with_days(move, "on")) for move in one["moves"]])


def _device(one: dict[str, Any]) -> Device:
    users = {player_id: dt.date.fromisoformat(on) for player_id, on in one["users"].items()}
    sides = {name: _side(one[name]) for name in ("up", "down")}
    return Device(**with_days(one, "first_on", "asked_on") | sides | {"users": users})


def _move_date(one: dict[str, Any]) -> DatedMove:
    return DatedMove(**with_days(one, "on", "earliest_on", "latest_on"))


def _shift(one: dict[str, Any]) -> DeviceShift:
    told = {"dated": _move_date(one["dated"]), "session_ids": tuple(one["session_ids"])}
    return DeviceShift(**with_days(one, "found_on", "told_on") | told)


def _packed(array: NDArray[Any]) -> str:
    return base64.b85encode(zlib.compress(np.ascontiguousarray(array).tobytes(), 1)).decode("ascii")


def _unpacked(text: str, kind: type[Any]) -> NDArray[Any]:
    return np.frombuffer(zlib.decompress(base64.b85decode(text)), dtype=kind)
