"""Which line of a shot sheet is which shot of the device's file."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipelines.measures.trial.labels import (
    SHEET_SCHEMA,
    CannotPairError,
    Paired,
    pair_by_order_and_time,
    with_labels,
)

BEGAN = datetime(2026, 5, 3, 9, 0)  # noqa: DTZ001 - instants are UTC without saying so, as in the warehouse


def sheet_of(times: list[float | None], arms: list[str | None] | None = None) -> pl.DataFrame:
    arms = arms or ["normal"] * len(times)
    rows = [
        (place, None if arm is None else place // 5 + 1, arm, arm is not None, None, None if at is None else _at(at))
        for place, (at, arm) in enumerate(zip(times, arms, strict=True), start=1)
    ]
    return pl.DataFrame(rows, schema=SHEET_SCHEMA, orient="row")


def _at(seconds: float) -> datetime:
    return BEGAN + timedelta(seconds=seconds)


def shots_of(times: list[float], numbers: list[int] | None = None) -> pl.DataFrame:
    return pl.DataFrame({"shot_no": numbers or list(range(1, len(times) + 1)), "struck_at": [_at(at) for at in times]})


def joined(paired: Paired) -> list[tuple[int | None, int | None]]:
    return list(paired.pairs.select("sheet_no", "shot_no").iter_rows())


def test_without_times_equal_numbers_go_by_order() -> None:
    paired = pair_by_order_and_time(sheet_of([None] * 4), shots_of([0, 30, 60, 90]))
    assert (joined(paired), paired.by, paired.clock_s) == ([(1, 1), (2, 2), (3, 3), (4, 4)], "order", None)
    assert paired.agrees


def test_without_times_unequal_numbers_cannot_be_told() -> None:
    with pytest.raises(CannotPairError, match="the sheet has 5 lines and there are 4 shots"):
        pair_by_order_and_time(sheet_of([None] * 5), shots_of([0, 30, 60, 90]))


def test_a_shot_that_the_device_missed_and_a_ball_between_are_found_by_time() -> None:
    noted = [5, 37, 71, 99, 140, 166, 201]
    struck = [0, 31, 95, 118, 134, 160, 195]  # the third was not read; 118 is on no sheet
    paired = pair_by_order_and_time(sheet_of(list(noted)), shots_of(struck))
    assert paired.missing == (3,)
    assert paired.extra == (4,)
    assert (1, 1) in joined(paired)
    assert (5, 5) in joined(paired)


def test_a_clock_an_hour_ahead_is_taken_off() -> None:
    noted = [0.0, 31, 70, 95, 131, 180]
    paired = pair_by_order_and_time(sheet_of(list(noted)), shots_of([at + 3600 for at in noted]))
    assert paired.agrees
    assert paired.clock_s == pytest.approx(3600)


def test_a_number_against_time_is_told() -> None:
    paired = pair_by_order_and_time(sheet_of([None] * 4), shots_of([0, 60, 30, 90]))
    assert joined(paired) == [(1, 1), (2, 3), (3, 2), (4, 4)]
    assert paired.out_of_order == (2,)
    assert not paired.agrees


@given(
    seed=st.integers(0, 2**31),
    n=st.integers(20, 70),
    dropped=st.integers(0, 3),
    added=st.integers(0, 2),
    clock=st.floats(-7200, 7200),
)
def test_a_morning_with_a_few_shots_missing_or_over_is_joined(seed: int, n: int, dropped: int, added: int, clock: float) -> None:
    """Balls come 15 to 60 s apart, are noted 2 to 6 s late, and a ball between comes at least 8 s from any other."""
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.uniform(15, 60, n))
    noted = times + rng.uniform(2, 6, n)
    lost = set(rng.choice(n, dropped, replace=False).tolist())
    kept = [(at, place + 1) for place, at in enumerate(times) if place not in lost]
    gaps = rng.choice(n - 1, added, replace=False)
    between = [((times[gap] + times[gap + 1]) / 2, None) for gap in gaps if times[gap + 1] - times[gap] > 30]
    everything: list[tuple[float, int | None]] = sorted([*kept, *between], key=lambda item: item[0])
    paired = pair_by_order_and_time(sheet_of(list(noted)), shots_of([at + clock for at, _ in everything]))
    truth = {shot: line for shot, (_, line) in enumerate(everything, start=1)}
    wrong = [(line, shot) for line, shot in joined(paired) if line is not None and shot is not None and truth[shot] != line]
    assert len(wrong) <= 2 * min(dropped, added), wrong  # a ball between may be taken for a missing shot beside it
    assert sum(line is not None for line, _ in joined(paired)) == n
    assert sum(shot is not None for _, shot in joined(paired)) == len(everything)


def labelled_rows() -> tuple[pl.DataFrame, pl.DataFrame]:
    sheet = sheet_of([0, 30, 60], [None, "normal", "wider"]).with_columns(felt=pl.Series([None, "late", None]))
    sheet = sheet.with_columns(counts=pl.Series([False, True, False]))  # the last was void
    shots = shots_of([0, 30, 45, 60]).with_columns(
        trial_id=pl.lit(None, pl.String), arm=pl.lit(None, pl.String), block_no=pl.lit(None, pl.Int64),
        counts=pl.lit(None, pl.Boolean), felt=pl.lit(None, pl.String),
    )  # fmt: skip
    return sheet, shots


def test_shots_get_what_the_sheet_says_and_a_ball_between_gets_nothing() -> None:
    sheet, shots = labelled_rows()
    paired = pair_by_order_and_time(sheet, shots)
    rows = with_labels(shots, sheet, paired, "t1")
    assert rows.columns == shots.columns
    assert rows.select("shot_no", "trial_id", "arm", "counts", "felt").rows() == [
        (1, None, None, False, None),
        (2, "t1", "normal", True, "late"),
        (3, None, None, None, None),
        (4, "t1", "wider", False, None),
    ]


def test_another_trials_shots_stay_its_own() -> None:
    sheet, shots = labelled_rows()
    shots = shots.with_columns(trial_id=pl.Series([None, None, "t0", None]), arm=pl.Series([None, None, "longer", None]))
    rows = with_labels(shots, sheet, pair_by_order_and_time(sheet, shots), "t1")
    assert rows.row(2, named=True)["trial_id"] == "t0"
    assert rows.row(2, named=True)["arm"] == "longer"
