"""Watching devices: which can be compared, what each reads above the others, and when players move together on one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.device.cause import JumpCause, jump_cause, ratio_cause
from pipelines.measures.device.dating import DatedMove, dated_move
from pipelines.measures.device.ledger import Device, Watch, Word, comparable, stands_alone, take_off
from pipelines.measures.device.memory import READ, Memory
from pipelines.measures.device.moves import FEWEST_EARLIER, Move, Side, Usual
from pipelines.measures.device.results import DeviceShift, DeviceWatch
from pipelines.measures.device.window import WINDOW_DAYS, OffsetInForce, window_offsets
from pipelines.measures.estimates import Estimates
from schemas.core.trends import FEWEST_SHARERS

Floats = NDArray[np.float64]

CLIP, SIGNAL_AT = 2.0, 12.0
MOST_A_DAY, AGREEING = 4, 0.8
"""Players of a day count for at most so many; share of players who must have moved the same way."""

LEAST_MOVE = 1.0
"""A common move smaller than so many scale units (weather moves ball speed by some tenths of a per cent) is left to the
months."""

OWN_CHANGES = 0.3
"""Standard deviation of what players of a device change by themselves meanwhile, on average, in scale units."""

ASKED_FOR, DOUBTED_FOR = 28, 14
"""Days for which it is asked who moved, and for which sessions on a suspected device count less."""

OWN_SHARE = 0.5
"""Share of a player's usual that must come from a new device itself before it is asked whether the device has moved."""

COMPARED_EVERY = 7
"""Days between comparisons while a device is new or has just moved: its offset rests on few sessions, and each week brings many
more."""


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
    Shift: each player's standardised distance from the own last sessions (at least 4; of a new device that is compared with
    others, half of their weight on itself), cut to -2..2; the median over the device's players of a day enters a cumulative
    sum of the device (allowance 0.5; a day weighs as many players as it has, at most 4). At 12, with at least 3 players of
    whom four in five moved that way, by 1 scale unit or more on average, the device is suspected: a squad that trains moves
    together too. The move is dated from all sessions of its players, with the uncertainty of its day (:func:`dated_move`).
    Nothing is taken off unless players who use another device within 28 days tell the two apart (:func:`jump_cause`), or club
    and ball of the same shots do (:func:`ratio_cause`), asked after each day of its sessions for four weeks, or a person
    does; then what they tell and the mean move together, weighed by their errors, are taken off from the next day on, and
    estimated anew every week for four weeks. Sessions that may be of either side of the move count for no comparison. For two
    weeks, or until it is told, sessions on it count less. Offset: at the first of each month, and every week while a device
    is new, from the 90 days before, against the device of its group that was used first; not told where fewer than 3 players
    tie them. Until it is told, sessions on it of players who came from another device are followed on their own; then its
    error counts as doubt about each of them. So are those on a device of fewer than 3 players; once it is shared, the series
    of who has used no other goes on with all of its sessions, and while fewer use it again it goes on too.

    Source: [Henderson1984] (offsets), [Hawkins1987] (charts); limits are our own
    Checked: tests/unit/test_device_monitor.py
    """
    indexed = observed.with_row_index("row").sort("on_date", "session_id", "player_id", "club_group")
    n = observed.height
    watch = Watch(
        scale,
        indexed,
        said,
        ratios,
        estimates or Estimates(),
        np.zeros(n),
        [""] * n,
        np.zeros(n),
        np.zeros(n, np.bool_),
        np.zeros(n),
    )
    if observed.is_empty():
        return DeviceWatch(watch.offsets, watch.doubt, watch.series, [], [])
    _pass_days(watch)
    return DeviceWatch(watch.offsets, watch.doubt, watch.series, watch.in_force, watch.shifts)


def _pass_days(watch: Watch) -> None:
    """Day after day, from the newest one on of which it is known what was known when it began."""
    memory = Memory(watch)
    compared_on, days = memory.recalled() or watch.rows["on_date"][0].replace(day=1), watch.rows.select(READ)
    for day in days.filter(pl.col("on_date") >= memory.begin_on).partition_by("on_date", maintain_order=True):
        on = day["on_date"][0]
        memory.note(on, compared_on)
        _heed(watch, on)
        if (due := _comparison_due(watch, compared_on, on)) is not None:
            compared_on = due
            _refit(watch, due)
        _pass_day(watch, on, day.to_dicts())


def _comparison_due(watch: Watch, last: dt.date, on: dt.date) -> dt.date | None:
    """Day of the comparison that is due before the sessions of a day: the first of the month, or any while a device is new."""
    is_new = len(watch.devices) > 1 and any(device.is_new(on) for device in watch.devices.values())
    if is_new and (on - last).days >= COMPARED_EVERY:
        return on
    return max(on.replace(day=1), last) if on.replace(day=1) > last else None


def _pass_day(watch: Watch, on: dt.date, rows: list[dict[str, Any]]) -> None:
    for row in rows:
        device = watch.devices.setdefault(row["device_id"], Device(on))
        device.users[row["player_id"]] = on
    shared = {name: watch.devices[name].is_shared(on) for name in {row["device_id"] for row in rows}}
    moves: dict[tuple[str, str], list[Move]] = {}
    for row in rows:
        device = watch.devices[row["device_id"]]
        usual = watch.usual.setdefault((row["player_id"], row["club"]), Usual())
        came_from_another, key = any(name != row["device_id"] for name in usual.shares), (row["player_id"], row["club"])
        goes_on = bool(usual.n) and not came_from_another
        if not (shared[row["device_id"]] or goes_on) or (device.static is None and came_from_another):
            watch.series[row["row"]] = row["device_id"]
            if not usual.n:
                stands_alone(watch, key, row["row"])
            continue
        _join(watch, key, row["device_id"])
        _take_in(watch, device, row["row"])
        if device.suspicion is not None:
            watch.doubt[row["row"]] += _doubt(watch.shifts[device.suspicion], on)
        watch.seen.setdefault(key, []).append(row["row"])
        value, variance = row["x"] - device.offset, row["variance"]
        if usual.n >= FEWEST_EARLIER and _tells_moves(device, usual.shares.get(row["device_id"], 0.0), on):
            move = Move(
                on, row["player_id"], row["club"], row["session_id"], value - usual.mean, variance + 1.0 / usual.precision
            )
            moves.setdefault((row["device_id"], row["player_id"]), []).append(move)
        usual.learn(row["device_id"], value, variance)
    for device_id in sorted({device_id for device_id, _ in moves}):
        players = [together for (device, _), together in sorted(moves.items()) if device == device_id]
        _score(watch.devices[device_id], players)
        _judge(watch, on, device_id)


def _take_in(watch: Watch, device: Device, row: int) -> None:
    watch.series[row] = ""
    watch.offsets[row], watch.shifted[row] = device.offset, device.shifted
    watch.doubt[row] = device.error**2 + device.shifted_error**2


def _join(watch: Watch, key: tuple[str, str], device_id: str) -> None:
    """Rows of a player on a device of few, now that it is shared: the same device, so the same series goes on."""
    device, usual, cells = watch.devices[device_id], watch.usual[key], watch.cells
    for row in watch.alone.pop(key, []):
        if cells.device_id[row] == device_id:
            _take_in(watch, device, row)
            watch.seen.setdefault(key, []).append(row)
            usual.learn(device_id, cells.x[row] - device.offset, cells.variance[row])


def _tells_moves(device: Device, share: float, on: dt.date) -> bool:
    """Whether what a player reads beyond the usual is a move of the device: on a new one it may be an offset hardly known yet."""
    return device.error == 0.0 or not device.is_new(on) or share >= OWN_SHARE


def _doubt(shift: DeviceShift, on: dt.date) -> float:
    return shift.amount**2 if (on - shift.found_on).days <= DOUBTED_FOR else 0.0


def _score(device: Device, players: list[list[Move]]) -> None:
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


def _judge(watch: Watch, on: dt.date, device_id: str) -> None:
    device = watch.devices[device_id]
    if device.suspicion is not None:
        _ask(watch, on, device.suspicion)
        return
    if device.settling is not None:
        _settle(watch, on, device.settling)
    for side, sign in ((device.up, 1.0), (device.down, -1.0)):
        least = LEAST_MOVE * watch.scale
        if side.total < SIGNAL_AT or not _moved_together(side.moves, sign, least):
            continue
        dated = dated_move(comparable(watch, on), device_id, on, watch.scale)
        if dated is None or sign * dated.amount < least:
            continue
        moves = [move for move in side.moves if move.on >= dated.on]
        sessions = tuple(dict.fromkeys(move.session_id for move in moves))
        n_players = len({move.player_id for move in moves})
        total, device.up, device.down = side.total, Side(), Side()
        device.suspicion, device.settling = len(watch.shifts), None
        watch.dates.append(dated)
        watch.taken.append(0.0)
        watch.shifts.append(DeviceShift(device_id, on, dated, n_players, len(sessions), sessions, total, "unclear", on))
        _ask(watch, on, device.suspicion)
        return


def _ask(watch: Watch, on: dt.date, number: int) -> None:
    """Who moved: the device, its players, or still unclear; and when it was, as far as is known by now."""
    shift = watch.shifts[number]
    device = watch.devices[shift.device_id]
    dated, found = _told_by(watch, on, number)
    if found.cause == "device":
        amount = _tell(watch, on, number, dated, found)
        watch.shifts[number] = replace(shift, cause="device", told_on=on, told_amount=amount)
        device.settling, device.asked_on = number, on
    elif found.cause == "players":
        watch.shifts[number] = replace(shift, cause="players", told_on=on)
    if found.cause != "unclear" or (on - shift.found_on).days >= ASKED_FOR:
        device.suspicion, device.up, device.down = None, Side(), Side()


def _settle(watch: Watch, on: dt.date, number: int) -> None:
    """For four weeks, every week: when a device moved and by how much, with the sessions that have come since it was told."""
    shift = watch.shifts[number]
    device = watch.devices[shift.device_id]
    if device.asked_on is None or (on - device.asked_on).days < COMPARED_EVERY:
        return
    device.asked_on = on
    known, before = watch.taken[number], watch.dates[number]
    take_off(watch, number, 0.0, before)
    dated, found = _told_by(watch, on, number)
    if found.cause == "device":
        _tell(watch, on, number, dated, found)
    else:
        take_off(watch, number, known, before)
    if (on - shift.found_on).days >= ASKED_FOR:
        device.settling = None


def _told_by(watch: Watch, on: dt.date, number: int) -> tuple[DatedMove, JumpCause]:
    shift, rows = watch.shifts[number], comparable(watch, on)
    dated = dated_move(rows, shift.device_id, shift.found_on, watch.scale)
    if dated is None or dated.amount * shift.amount <= 0.0:
        return watch.dates[number], JumpCause("unclear")
    found = jump_cause(rows, shift.device_id, dated, watch.scale)
    if found.cause == "unclear" and watch.ratios is not None:
        found = ratio_cause(_ratios(watch, watch.ratios, on, number), shift.device_id, dated)
        if found.cause == "device":
            watch.of_ratio.add(number)
    return dated, found


def _ratios(watch: Watch, ratios: pl.DataFrame, on: dt.date, number: int) -> pl.DataFrame:
    """Ball over club until a day, without what it has told of other moves of the device."""
    until = ratios.filter(pl.col("on_date") <= on)
    for other in sorted(watch.of_ratio - {number}):
        since = (pl.col("device_id") == watch.shifts[other].device_id) & (pl.col("on_date") >= watch.dates[other].on)
        until = until.with_columns(pl.when(since).then(pl.col("x") - watch.taken[other]).otherwise("x").alias("x"))
    return until


def _tell(watch: Watch, on: dt.date, number: int, dated: DatedMove, found: JumpCause) -> float:
    """Take off what is told, from the next day on."""
    shift = watch.shifts[number]
    device = watch.devices[shift.device_id]
    amount, device.shifted_error = _together(found, dated, watch.scale)
    take_off(watch, number, amount, dated)
    after, error = on + dt.timedelta(days=1), device.shifted_error
    watch.in_force.append(OffsetInForce(shift.device_id, after, device.offset, error, shift.n_players, found.n_bridges, "moved"))
    return amount


def _heed(watch: Watch, on: dt.date) -> None:
    """Do as a person said of a suspicion before this day."""
    for number, shift in enumerate(watch.shifts):
        word = watch.said(shift.device_id, shift.found_on)
        if number in watch.heeded or word is None or word[1] >= on:
            continue
        watch.heeded[number] = word
        device, dated, taken = watch.devices[shift.device_id], watch.dates[number], watch.taken[number]
        amount = {"device": taken or dated.amount, "players": 0.0, "unclear": taken}[word[0]]
        if amount != taken:
            take_off(watch, number, amount, dated)
            watch.in_force.append(OffsetInForce(shift.device_id, on, device.offset, dated.error, shift.n_players, 0, "decided"))
        watch.shifts[number] = replace(shift, cause=word[0], told_on=word[1], told_amount=amount)
        if number == device.suspicion:
            device.suspicion, device.up, device.down = None, Side(), Side()
        if number == device.settling and word[0] != "device":
            device.settling = None


def _together(found: JumpCause, dated: DatedMove, scale: float) -> tuple[float, float]:
    """What players on two devices tell, and the mean move of all, in which their own changes are an error too."""
    move_error = float(np.hypot(dated.error, OWN_CHANGES * scale))
    weight = move_error**2 / (found.error**2 + move_error**2)
    return weight * found.amount + (1.0 - weight) * dated.amount, weight**0.5 * found.error


def _moved_together(moves: list[Move], sign: float, least: float) -> bool:
    """Enough players, nearly all of them that way, and by so much on average."""
    by_player: dict[str, list[float]] = {}
    for move in moves:
        by_player.setdefault(move.player_id, []).append(sign * move.residual)
    agreeing = sum(sum(residuals) > 0 for residuals in by_player.values())
    weight = np.array([1.0 / move.variance for move in moves])
    mean = sign * float(weight @ np.array([move.residual for move in moves]) / weight.sum())
    return len(by_player) >= FEWEST_SHARERS and agreeing >= AGREEING * len(by_player) and mean >= least


def _refit(watch: Watch, start: dt.date) -> None:
    """Offsets from the window before a day; sessions since a move that nobody has explained yet are left out."""
    window = watch.rows.filter(pl.col("on_date").is_between(start - dt.timedelta(days=WINDOW_DAYS), start, closed="left"))
    window = window.filter(~pl.Series(watch.apart[window["row"].to_numpy()]))
    for device_id, device in watch.devices.items():
        if device.suspicion is not None:
            began = watch.dates[device.suspicion].earliest_on
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
