"""Many series of session values side by side: irregular in time, unequal in length and in shots."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class SeriesBatch:
    """S series of up to N sessions, packed to the left.

    Attributes
    ----------
    days : (N, S) array
        Day of each session, ascending within a series [d].
    values : (N, S) array
        Session value [scale units: multiples of the smallest worthwhile change, or of any other scale of the metric].
    noise_variance : (N, S) array
        Known sampling variance of each value, ``s**2 / n`` [scale units squared].
    jump_variance : (N, S) array
        Extra variance of the level just before each session: large where a shift was dated, else 0 [scale units squared].
    lengths : (S,) array
        Sessions of each series; what lies beyond is ignored.
    """

    days: Floats
    values: Floats
    noise_variance: Floats
    jump_variance: Floats
    lengths: Integers

    def __post_init__(self) -> None:
        shapes = {array.shape for array in (self.days, self.values, self.noise_variance, self.jump_variance)}
        if len(shapes) != 1 or self.days.ndim != 2 or self.lengths.shape != (self.days.shape[1],):
            raise ValueError("days, values and variances must be (N, S) arrays of one shape, lengths (S,)")
        if self.lengths.size and (self.lengths.min() < 1 or self.lengths.max() > self.days.shape[0]):
            raise ValueError("every series needs at least one session and at most N")

    def columns(self, chosen: Integers) -> SeriesBatch:
        """Some of the series, cut to their longest."""
        longest = int(self.lengths[chosen].max())
        return SeriesBatch(
            self.days[:longest, chosen],
            self.values[:longest, chosen],
            self.noise_variance[:longest, chosen],
            self.jump_variance[:longest, chosen],
            self.lengths[chosen],
        )


def packed(
    series_of_row: Integers, n_series: int, days: Floats, values: Floats, noise_variance: Floats, jump_variance: Floats
) -> SeriesBatch:
    """Series side by side from rows that are ordered by series and day.

    Parameters
    ----------
    series_of_row : (R,) array
        Number of the series of each row, ascending, 0 to ``n_series`` - 1, none left out.
    n_series : int
    days, values, noise_variance, jump_variance : (R,) arrays
        See :class:`SeriesBatch`; not NaN.

    Raises
    ------
    ValueError
        When a series has no row.
    """
    lengths = np.bincount(series_of_row, minlength=n_series).astype(np.int64)
    starts = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    step = np.arange(series_of_row.size) - starts[series_of_row]
    shape = (int(lengths.max(initial=1)), n_series)

    def side_by_side(rows: Floats) -> Floats:
        array = np.zeros(shape)
        array[step, series_of_row] = rows
        return array

    return SeriesBatch(
        side_by_side(days), side_by_side(values), side_by_side(noise_variance), side_by_side(jump_variance), lengths
    )
