"""What the watch over devices knew when a day began leads on to what a watch from the first day on finds."""

from __future__ import annotations

import datetime as dt
from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from pipelines.measures.device import monitor
from pipelines.measures.device.monitor import device_watch
from pipelines.measures.estimates import Estimates
from tests.unit.test_device_monitor import START, few_then_three, level, observed, ratios, stepped

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.measures.device.ledger import Word
    from pipelines.measures.device.results import DeviceWatch

    Said = Callable[[str, dt.date], Word | None]

JUMP = {"bay-1": level(150), "bay-2": stepped(150, 80, 2.0), "bay-3": level(150)}
"""Bay 2 moves on 26 March: it is settled until the end of April."""


def unsaid(_device: str, _on: dt.date) -> Word | None:
    return None


def same(one: DeviceWatch, other: DeviceWatch) -> bool:
    arrays = all(np.array_equal(getattr(one, name), getattr(other, name)) for name in ("offsets", "doubt"))
    return arrays and (one.series, one.in_force, one.shifts) == (other.series, other.in_force, other.shifts)


def rows_and_ratios(day: int) -> tuple[pl.DataFrame, pl.DataFrame]:
    rows = observed(1, 12, 150, JUMP)
    until = pl.col("on_date") <= START + dt.timedelta(days=day)
    return rows.filter(until), ratios(rows, 16, level(150)).filter(until)


@pytest.fixture
def passed(monkeypatch: pytest.MonkeyPatch) -> list[dt.date]:
    """Days that are passed."""
    days: list[dt.date] = []
    whole = monitor._pass_day

    def pass_day(watch: object, on: dt.date, rows: object) -> None:
        days.append(on)
        whole(watch, on, rows)  # type: ignore[arg-type]

    monkeypatch.setattr(monitor, "_pass_day", pass_day)
    return days


def test_watches_that_build_on_each_other_find_what_a_whole_one_does(passed: list[dt.date]) -> None:
    estimates = Estimates()
    for day in (70, 84, 86, 88, 95, 110, 117, 149):  # through the move, the first of two months, and the end of settling
        rows, ratio = rows_and_ratios(day)
        estimates = Estimates(estimates.asked)
        passed.clear()
        built = device_watch(rows, 1.0, unsaid, ratio, estimates)
        if day > 70:
            assert min(passed) >= (START + dt.timedelta(days=day)).replace(day=1) - dt.timedelta(days=31)
        assert same(built, device_watch(rows, 1.0, unsaid, ratio))
    assert built.shifts[0].cause == "device"
    passed.clear()
    rows, ratio = rows_and_ratios(145)
    built = device_watch(rows, 1.0, unsaid, ratio, Estimates(estimates.asked))
    assert min(passed) == dt.date(2026, 5, 25), "the days of this week, and no others"
    assert same(built, device_watch(rows, 1.0, unsaid, ratio))


def test_a_device_that_a_third_player_comes_to_is_remembered_too() -> None:
    rows, estimates = few_then_three(joins_on=62), Estimates()
    for day in (58, 61, 64, 95):
        until = rows.filter(pl.col("on_date") <= START + dt.timedelta(days=day))
        estimates = Estimates(estimates.asked)
        built = device_watch(until, 1.0, unsaid, None, estimates)
        assert same(built, device_watch(until, 1.0, unsaid, None))
        assert set(built.series) == {"own" if day < 62 else ""}


def test_a_late_session_is_not_passed_by(passed: list[dt.date]) -> None:
    earlier = Estimates()
    for day in (115, 118, 119, 120):  # what was known at the first of April is handed on from night to night
        rows, ratio = rows_and_ratios(day)
        earlier = Estimates(earlier.asked)
        device_watch(rows, 1.0, unsaid, ratio, earlier)
    for late_on in (dt.date(2026, 5, 2), dt.date(2026, 4, 20), dt.date(2026, 2, 3)):
        late = rows.filter(pl.col("on_date") == late_on).head(1).with_columns(pl.col("x") + 9.0, session_id=pl.lit("late"))
        told = pl.concat([late, rows])
        passed.clear()
        built = device_watch(told, 1.0, unsaid, ratio, Estimates(earlier.asked))
        assert min(passed) <= late_on
        assert same(built, device_watch(told, 1.0, unsaid, ratio))
    moved = pl.when(pl.col("on_date") == dt.date(2026, 3, 28)).then(pl.col("x") + 5.0).otherwise("x")
    corrected = ratio.with_columns(moved.alias("x"))
    built = device_watch(rows, 1.0, unsaid, corrected, Estimates(earlier.asked))
    assert same(built, device_watch(rows, 1.0, unsaid, corrected))


def test_what_a_person_says_is_heeded_whenever_it_is_said() -> None:
    rows, ratio = rows_and_ratios(140)
    (shift, *_) = device_watch(rows, 1.0).shifts

    def saying(cause: str, on: dt.date) -> Said:
        return lambda _, found_on: (cause, on) if found_on == shift.found_on else None  # type: ignore[return-value]

    soon, later = shift.found_on + dt.timedelta(days=3), dt.date(2026, 5, 12)
    words: list[Said] = [unsaid, saying("players", soon), saying("device", soon), saying("players", later)]
    known = [Estimates() for _ in words]
    whole = [device_watch(rows, 1.0, said, ratio, one) for said, one in zip(words, known, strict=True)]
    for before, now in permutations(range(len(words)), 2):
        assert same(device_watch(rows, 1.0, words[now], ratio, Estimates(known[before].asked)), whole[now])
