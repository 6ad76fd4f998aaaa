"""Watching devices: which can be compared, what each reads above the others, and when players move together on one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.device.cause import Cause, JumpCause, jump_cause, ratio_cause
from pipelines.measures.device.moves import FEWEST_EARLIER, Move, Side, Usual
from pipelines.measures.device.window import FEWEST_SHARERS, WINDOW_DAYS, OffsetInForce, window_offsets
from pipelines.measures.estimates import Estimates

Floats = NDArray[np.float64]

CLIP, SIGNAL_AT = 2.0, 12.0
MOST_A_DAY, AGREEING = 4, 0.8
"""Players of a day count for at most so many; share of players who must have moved the same way."""

LEAST_MOVE = 1.0
"""A common move smaller than so many scale units (weather moves ball speed by some tenths of a per cent) is left to the
months."""

OWN_CHANGES = 0.3
"""Standard deviation of what players of a device change by themselves meanwhile, on average, in scale units."""

Word = tuple[Cause, dt.date]
"""What a person said of a suspicion, and when."""


ASKED_FOR, DOUBTED_FOR = 28, 14
"""Days for which it is asked who moved, and for which sessions on a suspected device count less."""

COMPARED_EVERY = 7
"""Days between comparisons while a device is new: its offset rests on few sessions, and each week brings many more."""


@dataclass(frozen=True)
class DeviceShift:
    """Players moved together on one device.

    Attributes
    ----------
    device_id : str
    found_on, began_on : datetime.date
    amount, error : float
        Mean move [%] and its standard error.
    n_players, n_sessions : int
    session_ids : tuple of str
    sum : float
        Of the chart when it was found, in standard deviations.
    cause : {"device", "players", "unclear"}
        Who moved, as far as players on two devices tell by ``told_on``; only where it is the device is anything taken off.
    told_on : datetime.date
    told_amount : float
        What is taken off from the day after; 0 unless it is the device.
    """

    device_id: str
    found_on: dt.date
    began_on: dt.date
    amount: float
    error: float
    n_players: int
    n_sessions: int
    session_ids: tuple[str, ...]
    sum: float
    cause: Cause
    told_on: dt.date
    told_amount: float = 0.0


@dataclass(frozen=True)
class DeviceWatch:
    """What the watch over one quantity found.

    Attributes
    ----------
    offsets : (n,) array
        Offset to take off each observation, as known on its day [%].
    series : list of str
        For each observation: empty, or the device when it is followed on its own.
    doubt : (n,) array
        Variance that is added to an observation while its device is suspected: the squared move.
    in_force : list of OffsetInForce
    shifts : list of DeviceShift
    """

    offsets: Floats
    doubt: Floats
    series: list[str]
    in_force: list[OffsetInForce]
    shifts: list[DeviceShift]


@dataclass
class _Suspicion:
    number: int  # among the shifts


@dataclass
class _Device:
    first_on: dt.date
    static: float | None = None  # None: not compared with another device yet
    error: float = 0.0  # of static
    shifted: float = 0.0
    up: Side = field(default_factory=Side)
    down: Side = field(default_factory=Side)
    users: dict[str, dt.date] = field(default_factory=dict)
    suspicion: _Suspicion | None = None

    @property
    def offset(self) -> float:
        return (self.static or 0.0) + self.shifted

    def is_shared(self, on: dt.date) -> bool:
        oldest = on - dt.timedelta(days=WINDOW_DAYS)
        return sum(last >= oldest for last in self.users.values()) >= FEWEST_SHARERS

    def is_new(self, on: dt.date) -> bool:
        return (on - self.first_on).days <= WINDOW_DAYS


@dataclass
class _Watch:
    scale: float
    rows: pl.DataFrame
    said: Callable[[str, dt.date], Word | None]
    ratios: pl.DataFrame | None
    estimates: Estimates
    offsets: Floats
    series: list[str]
    shifted: Floats  # of each row, as known best by now
    doubt: Floats
    devices: dict[str, _Device] = field(default_factory=dict)
    usual: dict[tuple[str, str], Usual] = field(default_factory=dict)
    rows_of: dict[str, list[tuple[dt.date, int]]] = field(default_factory=dict)
    in_force: list[OffsetInForce] = field(default_factory=list)
    shifts: list[DeviceShift] = field(default_factory=list)
    moves: list[list[Move]] = field(default_factory=list)  # of each shift
    heeded: set[int] = field(default_factory=set)


def device_watch(
    observed: pl.DataFrame,
    scale: float,
    said: Callable[[str, dt.date], Word | None] = lambda *_: None,
    ratios: pl.DataFrame | None = None,
    estimates: Estimates | None = None,
) -> DeviceWatch:
    """Offsets, comparability and common shifts of devices, day by day with what was known by then.

    Parameters
    ----------
    observed : polars.DataFrame
        Observations of one quantity over all players and groups of clubs: player_id, club_group, club, session_id,
        on_date,
        device_id, x [change unit], variance (form and shot noise, squared).
    scale : float
        Scale of the quantity: its prior smallest worthwhile change [change unit].
    said : callable, optional
        What a person decided of the suspicion of a device, found on a day: it counts from the day after, whatever the data tell.
    ratios : polars.DataFrame, optional
        Ball speed over club speed of the same sessions, as ``observed``, turned so that it moves with a wrong reading of this
        quantity.
    estimates : Estimates, optional
        Those of before.

    Returns
    -------
    DeviceWatch
        In the order of the rows given.

    Notes
    -----
    Shift: each player's standardised distance from the own last sessions (at least 4), cut to -2..2; the median over the
    device's players of a day enters a cumulative sum of the device (allowance 0.5; a day weighs as many players as it has, at
    most 4). At 12, with at least 3 players of whom four in five moved that way, by 1 scale unit or more on average, the device
    is suspected: a squad that trains moves together too. Nothing is taken off unless players who use another device within 28
    days tell the two apart (:func:`jump_cause`), or club and ball of the same shots do (:func:`ratio_cause`), asked after each
    day of its sessions for four weeks, or a person does; then what they tell and the mean move together, weighed by their
    errors, are taken off from the next day on. For two weeks, or until it is told, sessions on it count less. Offset: at the
    first of each month, and every week while a device is new, from the 90 days before, against the device of its group that was
    used first; not told where fewer than 3 players tie them. Until it is told, sessions on it of players who came from another
    device are followed on their own; then its error counts as doubt about each of them.

    Source: [Henderson1984] (offsets), [Hawkins1987] (charts); limits are our own
    Checked: tests/unit/test_device_monitor.py
    """
    indexed = observed.with_row_index("row").sort("on_date", "session_id", "player_id", "club_group")
    n = observed.height
    watch = _Watch(scale, indexed, said, ratios, estimates or Estimates(), np.zeros(n), [""] * n, np.zeros(n), np.zeros(n))
    if observed.is_empty():
        return DeviceWatch(watch.offsets, watch.doubt, watch.series, [], [])
    compared_on = indexed["on_date"][0].replace(day=1)
    for day in indexed.partition_by("on_date", maintain_order=True):
        on = day["on_date"][0]
        _heed(watch, on)
        if (due := _comparison_due(watch, compared_on, on)) is not None:
            compared_on = due
            _refit(watch, due)
        _pass_day(watch, on, day.to_dicts())
    return DeviceWatch(watch.offsets, watch.doubt, watch.series, watch.in_force, watch.shifts)


def _comparison_due(watch: _Watch, last: dt.date, on: dt.date) -> dt.date | None:
    """Day of the comparison that is due before the sessions of a day: the first of the month, or any while a device is new."""
    is_new = len(watch.devices) > 1 and any(device.is_new(on) for device in watch.devices.values())
    if is_new and (on - last).days >= COMPARED_EVERY:
        return on
    return max(on.replace(day=1), last) if on.replace(day=1) > last else None


def _pass_day(watch: _Watch, on: dt.date, rows: list[dict[str, Any]]) -> None:
    for row in rows:
        device = watch.devices.setdefault(row["device_id"], _Device(on))
        device.users[row["player_id"]] = on
    shared = {name: watch.devices[name].is_shared(on) for name in {row["device_id"] for row in rows}}
    moves: dict[tuple[str, str], list[Move]] = {}
    for row in rows:
        device = watch.devices[row["device_id"]]
        usual = watch.usual.setdefault((row["player_id"], row["club"]), Usual())
        came_from_another = any(name != row["device_id"] for name in usual.shares)
        if not shared[row["device_id"]] or (device.static is None and came_from_another):
            watch.series[row["row"]] = row["device_id"]
            continue
        watch.offsets[row["row"]], watch.shifted[row["row"]] = device.offset, device.shifted
        watch.doubt[row["row"]] = device.error**2
        if device.suspicion is not None:
            watch.doubt[row["row"]] += _doubt(watch.shifts[device.suspicion.number], on)
        watch.rows_of.setdefault(row["device_id"], []).append((on, row["row"]))
        value, variance = row["x"] - device.offset, row["variance"]
        if usual.n >= FEWEST_EARLIER:
            move = Move(
                on, row["player_id"], row["club"], row["session_id"], value - usual.mean, variance + 1.0 / usual.precision
            )
            moves.setdefault((row["device_id"], row["player_id"]), []).append(move)
        usual.learn(row["device_id"], value, variance)
    for device_id in sorted({device_id for device_id, _ in moves}):
        players = [together for (device, _), together in sorted(moves.items()) if device == device_id]
        device = watch.devices[device_id]
        _score(device, players)
        if device.suspicion is not None:
            watch.moves[device.suspicion.number] += [move for together in players for move in together]
        _judge(watch, on, device_id)


def _doubt(shift: DeviceShift, on: dt.date) -> float:
    return shift.amount**2 if (on - shift.found_on).days <= DOUBTED_FOR else 0.0


def _score(device: _Device, players: list[list[Move]]) -> None:
    """One day of the device: the median of its players, so that some who really changed do not move it."""
    scores = [_player_score(together) for together in players]
    middle, weight = float(np.median(scores)), min(len(scores), MOST_A_DAY)
    moves = [move for together in players for move in together]
    device.up.add(middle, weight, moves)
    device.down.add(-middle, weight, moves)


def _player_score(together: list[Move]) -> float:
    """One player's day on the device: clubs of one day share the player's form and count as one."""
    residual = sum(move.residual for move in together) / len(together)
    variance = sum(move.variance for move in together) / len(together)
    return float(min(max(residual / variance**0.5, -CLIP), CLIP))


def _judge(watch: _Watch, on: dt.date, device_id: str) -> None:
    device = watch.devices[device_id]
    if device.suspicion is not None:
        _ask(watch, on, device_id)
        return
    for side, sign in ((device.up, 1.0), (device.down, -1.0)):
        if side.total < SIGNAL_AT or not _moved_together(side.moves, sign):
            continue
        weight = np.array([1.0 / move.variance for move in side.moves])
        amount = float(weight @ np.array([move.residual for move in side.moves]) / weight.sum())
        if abs(amount) < LEAST_MOVE * watch.scale:
            continue
        device.up, device.down = Side(), Side()
        players = {move.player_id for move in side.moves}
        sessions = tuple(dict.fromkeys(move.session_id for move in side.moves))
        error, began = float(weight.sum() ** -0.5), side.moves[0].on
        device.suspicion = _Suspicion(len(watch.shifts))
        watch.moves.append(list(side.moves))
        watch.shifts.append(
            DeviceShift(device_id, on, began, amount, error, len(players), len(sessions), sessions, side.total, "unclear", on)
        )
        _ask(watch, on, device_id)
        return


def _ask(watch: _Watch, on: dt.date, device_id: str) -> None:
    """Who moved: the device, its players, or still unclear."""
    device = watch.devices[device_id]
    suspicion = device.suspicion
    if suspicion is None:
        return
    shift = watch.shifts[suspicion.number]
    found = jump_cause(_comparable(watch, on), device_id, shift.began_on, shift.amount, watch.scale)
    if found.cause == "unclear" and watch.ratios is not None:
        until = watch.ratios.filter(pl.col("on_date") <= on)
        found = ratio_cause(until, device_id, shift.began_on, shift.amount)
    if found.cause == "device":
        amount, error = _together(found, shift, watch.scale)
        watch.shifts[suspicion.number] = replace(shift, cause="device", told_on=on, told_amount=amount)
        _take_off(watch, device_id, amount, watch.moves[suspicion.number])
        after = on + dt.timedelta(days=1)
        watch.in_force.append(OffsetInForce(device_id, after, device.offset, error, shift.n_players, found.n_bridges, "moved"))
    elif found.cause == "players":
        watch.shifts[suspicion.number] = replace(shift, cause="players", told_on=on)
    if found.cause != "unclear" or (on - shift.found_on).days >= ASKED_FOR:
        device.suspicion, device.up, device.down = None, Side(), Side()


def _heed(watch: _Watch, on: dt.date) -> None:
    """Do as a person said of a suspicion before this day."""
    for number, shift in enumerate(watch.shifts):
        word = watch.said(shift.device_id, shift.found_on)
        if number in watch.heeded or word is None or word[1] >= on:
            continue
        watch.heeded.add(number)
        device, amount = watch.devices[shift.device_id], shift.amount if word[0] == "device" else 0.0
        if word[0] == "unclear":
            amount = shift.told_amount
        if amount != shift.told_amount:
            _take_off(watch, shift.device_id, amount - shift.told_amount, watch.moves[number])
            watch.in_force.append(OffsetInForce(shift.device_id, on, device.offset, shift.error, shift.n_players, 0, "decided"))
        watch.shifts[number] = replace(shift, cause=word[0], told_on=word[1], told_amount=amount)
        if device.suspicion is not None and device.suspicion.number == number:
            device.suspicion, device.up, device.down = None, Side(), Side()


def _together(found: JumpCause, shift: DeviceShift, scale: float) -> tuple[float, float]:
    """What players on two devices tell, and the mean move of all, in which their own changes are an error too."""
    move_error = float(np.hypot(shift.error, OWN_CHANGES * scale))
    weight = move_error**2 / (found.error**2 + move_error**2)
    return weight * found.amount + (1.0 - weight) * shift.amount, weight**0.5 * found.error


def _comparable(watch: _Watch, on: dt.date) -> pl.DataFrame:
    """Sessions up to a day on devices that are not followed on their own, after what is known of their offsets."""
    rows = watch.rows.filter(pl.col("on_date") <= on)
    row = rows["row"].to_numpy()
    statics = pl.col("device_id").replace_strict({name: one.static or 0.0 for name, one in watch.devices.items()}, default=0.0)
    shared = pl.Series([not watch.series[number] for number in row], dtype=pl.Boolean)
    return rows.with_columns((pl.col("x") - statics - pl.Series(watch.shifted[row])).alias("x")).filter(shared)


def _moved_together(moves: list[Move], sign: float) -> bool:
    by_player: dict[str, list[float]] = {}
    for move in moves:
        by_player.setdefault(move.player_id, []).append(sign * move.residual)
    agreeing = sum(sum(residuals) > 0 for residuals in by_player.values())
    return len(by_player) >= FEWEST_SHARERS and agreeing >= AGREEING * len(by_player)


def _take_off(watch: _Watch, device_id: str, amount: float, moves: list[Move]) -> None:
    """From now on, and from what was learned since it began."""
    watch.devices[device_id].shifted += amount
    for on, row in watch.rows_of[device_id]:
        if on >= moves[0].on:
            watch.shifted[row] += amount
    for move in moves:
        usual = watch.usual[move.player_id, move.club]
        usual.mean -= amount * min(1.0 / move.variance / usual.precision, 1.0)


def _refit(watch: _Watch, start: dt.date) -> None:
    """Offsets from the window before a day; sessions since a move that nobody has explained yet are left out."""
    window = watch.rows.filter(pl.col("on_date").is_between(start - dt.timedelta(days=WINDOW_DAYS), start, closed="left"))
    for device_id, device in watch.devices.items():
        if device.suspicion is not None:
            began = watch.shifts[device.suspicion.number].began_on
            window = window.filter((pl.col("device_id") != device_id) | (pl.col("on_date") < began))
    unshifted = window.with_columns((pl.col("x") - pl.Series(watch.shifted[window["row"].to_numpy()])).alias("x"))
    in_force = {name: device.static for name, device in watch.devices.items()}
    for one in window_offsets(unshifted, watch.scale, in_force, watch.estimates):
        device = watch.devices[one.device_id]
        for usual in watch.usual.values():
            usual.reoffset(one.device_id, one.offset - (device.static or 0.0))
        device.static, device.error = one.offset, one.error
        if one.error > 0:
            watch.in_force.append(
                OffsetInForce(one.device_id, start, device.offset, one.error, one.n_players, one.n_bridges, "two devices")
            )
