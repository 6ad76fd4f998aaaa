"""A shot sheet as it was carried out, joined with the shots that a device read: which line of the sheet is which shot."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.trial.alignment import aligned_places, alignment_costs

SHEET_SCHEMA: dict[str, pl.DataType] = {
    "sheet_no": pl.Int64(),
    "block_no": pl.Int64(),
    "arm": pl.String(),
    "counts": pl.Boolean(),
    "felt": pl.String(),
    "at": pl.Datetime("us"),
}
"""A sheet as it was carried out: a line each, from 1; ``at``: when the line was noted (UTC), null where nobody noted it."""

PAIR_SCHEMA: dict[str, pl.DataType] = {"sheet_no": pl.Int64(), "shot_no": pl.Int64(), "differs": pl.String()}
"""A row each: both numbers, or one and ``differs``: ``missing`` (on the sheet, not read), ``extra`` (read, not on the sheet)."""

LEFT_OUT_S = 20.0
"""What it costs to leave one line or one shot alone, in seconds of two clocks that disagree."""
CLOSE_S = 10.0
"""Two clocks that run alike agree to this, once the difference between them is taken off."""
WARM_UP_LINES = 8
_Seconds = NDArray[np.float64]


class CannotPairError(ValueError):
    """Sheet and shots differ in number, and no times tell which are missing.

    Parameters
    ----------
    n_lines, n_shots : int
    """

    def __init__(self, n_lines: int, n_shots: int) -> None:
        super().__init__(f"the sheet has {n_lines} lines and there are {n_shots} shots")
        self.n_lines = n_lines
        self.n_shots = n_shots


@dataclass(frozen=True)
class Paired:
    """Which line is which shot.

    Attributes
    ----------
    pairs : polars.DataFrame
        :data:`PAIR_SCHEMA`, in the order of both.
    by : {"order", "time"}
        What told them.
    clock_s : float or None
        How far the device's clock is ahead of the sheet's [s]; None: the sheet has no times.
    out_of_order : tuple of int
        Numbers of shots that were struck before one of a smaller number.
    """

    pairs: pl.DataFrame
    by: Literal["order", "time"]
    clock_s: float | None
    out_of_order: tuple[int, ...]

    @property
    def missing(self) -> tuple[int, ...]:
        """Lines of the sheet that no shot belongs to."""
        return tuple(self.pairs.filter(pl.col("differs") == "missing")["sheet_no"])

    @property
    def extra(self) -> tuple[int, ...]:
        """Shots that no line of the sheet belongs to."""
        return tuple(self.pairs.filter(pl.col("differs") == "extra")["shot_no"])

    @property
    def agrees(self) -> bool:
        """Whether every line is a shot, every shot a line, and numbers go with time."""
        return not self.missing and not self.extra and not self.out_of_order


def pair_by_order_and_time(sheet: pl.DataFrame, shots: pl.DataFrame) -> Paired:
    """Join the lines of a sheet with the shots of a session.

    Parameters
    ----------
    sheet : polars.DataFrame
        :data:`SHEET_SCHEMA`.
    shots : polars.DataFrame
        ``shot_no`` and ``struck_at`` (UTC); ordered here by time, then number.

    Returns
    -------
    Paired
        Where every line has a time, by an alignment that keeps both orders and costs the seconds by which a pair disagrees
        beyond the constant difference of the two clocks, and :data:`LEFT_OUT_S` for whatever stays alone; equal numbers whose
        times go together are taken one to one. Where a line has no time, by order alone.

    Raises
    ------
    CannotPairError
        When the numbers differ and a line has no time.

    Notes
    -----
    The alignment is the dynamic programme for two sequences of [Needleman1970], with seconds for letters.
    Checked: tests/unit/test_trial_labels.py
    """
    ordered = shots.sort("struck_at", "shot_no")
    lines, numbers = sheet["sheet_no"].to_list(), ordered["shot_no"].to_list()
    late = tuple(sorted({after for before, after in pairwise(numbers) if after < before}))
    if not lines or not numbers:
        return Paired(_pairs(lines, numbers, []), "order", None, late)
    if sheet["at"].null_count():
        if len(lines) != len(numbers):
            raise CannotPairError(len(lines), len(numbers))
        return Paired(_pairs(lines, numbers, list(zip(range(len(lines)), range(len(lines)), strict=True))), "order", None, late)
    noted, struck = _seconds(sheet["at"]), _seconds(ordered["struck_at"])
    pairs, clock = _aligned(noted, struck)
    return Paired(_pairs(lines, numbers, pairs), "time", clock, late)


def _seconds(instants: pl.Series) -> _Seconds:
    return instants.cast(pl.Datetime("us")).to_physical().cast(pl.Float64).to_numpy() / 1e6


def _aligned(noted: _Seconds, struck: _Seconds) -> tuple[list[tuple[int, int]], float]:
    """Places that belong together, and how far the second clock is ahead."""
    if len(noted) == len(struck):
        clock = float(np.median(struck - noted))
        if float(np.abs(struck - noted - clock).max()) <= CLOSE_S:
            return [(place, place) for place in range(len(noted))], clock
    best: tuple[float, list[tuple[int, int]], float] | None = None
    for clock in _clocks(noted, struck):
        cost, pairs = _cheapest(noted + clock, struck)
        if pairs:
            first, second = (np.array(side) for side in zip(*pairs, strict=True))
            clock = float(np.median(struck[second] - noted[first]))  # noqa: PLW2901 - the same clock, told by its pairs
            cost, pairs = _cheapest(noted + clock, struck)
        if best is None or cost < best[0] - 1e-9:
            best = (cost, pairs, clock)
    assert best is not None  # noqa: S101 - there is at least one clock
    return best[1], best[2]


def _clocks(noted: _Seconds, struck: _Seconds) -> list[float]:
    """Differences of the two clocks that are worth a try: one for each number of lines by which the orders may be shifted."""
    reach = abs(len(noted) - len(struck)) + WARM_UP_LINES
    found = []
    for shift in sorted(range(-reach, reach + 1), key=abs):
        first, second = noted[max(-shift, 0) :], struck[max(shift, 0) :]
        both = min(len(first), len(second))
        if both:
            found += np.quantile(second[:both] - first[:both], [0.2, 0.5, 0.8]).tolist()  # shots may be missing in several places
    return sorted(set(found), key=abs)


def _cheapest(noted: _Seconds, struck: _Seconds) -> tuple[float, list[tuple[int, int]]]:
    """The cheapest alignment of two rising sequences, and its pairs of places."""
    apart = np.abs(noted[:, None] - struck[None, :])
    cost = alignment_costs(apart, LEFT_OUT_S)
    return float(cost[-1, -1]), aligned_places(cost, apart, LEFT_OUT_S)


def _pairs(lines: list[int], numbers: list[int], pairs: list[tuple[int, int]]) -> pl.DataFrame:
    rows: list[tuple[int | None, int | None, str]] = []
    row = column = 0
    for line, shot in [*pairs, (len(lines), len(numbers))]:
        rows += [(lines[place], None, "missing") for place in range(row, line)]
        rows += [(None, numbers[place], "extra") for place in range(column, shot)]
        if line < len(lines):
            rows.append((lines[line], numbers[shot], ""))
        row, column = line + 1, shot + 1
    return pl.DataFrame(rows, schema=PAIR_SCHEMA, orient="row")


def with_labels(shots: pl.DataFrame, sheet: pl.DataFrame, paired: Paired, trial_id: str) -> pl.DataFrame:
    """The shots with trial, arm, block, counting and what was felt as the sheet has them.

    Parameters
    ----------
    shots : polars.DataFrame
        Rows of one session, with the columns of a shots file.
    sheet : polars.DataFrame
        :data:`SHEET_SCHEMA`.
    paired : Paired
    trial_id : str

    Returns
    -------
    polars.DataFrame
        The same rows and columns. A warm-up shot has no arm and does not count. A shot that is not on the sheet keeps whether
        it counts, and belongs to no arm of this trial.
    """
    told = (
        paired.pairs.filter(pl.col("differs") == "")
        .join(sheet, on="sheet_no", how="left", maintain_order="left")
        .select("shot_no", *(pl.col(name).alias(f"_{name}") for name in ("arm", "block_no", "counts", "felt")))
    )
    own = pl.col("_counts").is_not_null()
    others = pl.col("trial_id").is_not_null() & (pl.col("trial_id") != trial_id)
    keep = ~own & others
    return (
        shots.join(told, on="shot_no", how="left", maintain_order="left")
        .with_columns(
            pl.when(keep).then("trial_id").when(pl.col("_arm").is_not_null()).then(pl.lit(trial_id)).alias("trial_id"),
            pl.when(keep).then("arm").otherwise("_arm").alias("arm"),
            pl.when(keep).then("block_no").otherwise("_block_no").alias("block_no"),
            pl.coalesce("_counts", "counts").alias("counts"),
            pl.coalesce("_felt", "felt").alias("felt"),
        )
        .select(shots.columns)
    )
