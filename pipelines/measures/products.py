"""Matrix products by one thread: of a larger one the library shares the work out, and its threads wait for each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Iterator

Floats = NDArray[np.float64]

BY_ONE_THREAD = 200_000
"""Multiplications of a product that the library leaves to one thread."""


def product(rows: Floats, steps: Floats) -> Floats:
    """Matrix product, some rows at a time.

    Parameters
    ----------
    rows : array (..., n, k)
    steps : array (..., k, m)

    Returns
    -------
    array (..., n, m)

    Notes
    -----
    Source: definition of the matrix product. Checked: tests/unit/test_products.py
    """
    parts = [rows[..., some, :] @ steps for some in _some_rows(rows.shape[-2], steps.shape[-2] * steps.shape[-1])]
    return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=-2)


def cross_product(columns: Floats) -> Floats:
    """Products of all pairs of columns, summed over the rows, some rows at a time.

    Parameters
    ----------
    columns : array (n, k)

    Returns
    -------
    array (k, k)

    Notes
    -----
    Source: definition of the matrix product. Checked: tests/unit/test_products.py
    """
    found = np.zeros((columns.shape[1], columns.shape[1]))
    for some in _some_rows(columns.shape[0], columns.shape[1] ** 2):
        found += columns[some].T @ columns[some]
    return found


def _some_rows(n_rows: int, a_row: int) -> Iterator[slice]:
    """Rows whose products one thread makes; ``a_row``: multiplications of one row. At least one slice."""
    size = max(1, BY_ONE_THREAD // max(1, a_row))
    return (slice(start, start + size) for start in range(0, max(1, n_rows), size))
