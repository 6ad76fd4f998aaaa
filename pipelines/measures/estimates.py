"""What is estimated of a squad at fixed moments, computed once for the same inputs: yesterday's estimates stand."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import polars as pl


class Estimates:
    """Results of pure functions by digest of all that they were given.

    Parameters
    ----------
    known : mapping of str to str, optional
        Results of before, as JSON, by digest of their inputs.

    Attributes
    ----------
    asked : dict of str to str
        Those that were asked for, known before or not.
    """

    def __init__(self, known: Mapping[str, str] | None = None) -> None:
        self._known = known or {}
        self.asked: dict[str, str] = {}

    def once(self, what: str, rows: pl.DataFrame, beside: object, make: Callable[[], list[Any]]) -> list[Any]:
        """What ``make`` returns (lists, texts and numbers), or has returned of the same rows and of whatever else it reads.

        Parameters
        ----------
        what : str
            Name of the estimate.
        rows : polars.DataFrame
            All rows that ``make`` reads, in order.
        beside : object
            Whatever else it reads; its text says all of it.
        make : callable

        Notes
        -----
        Numbers come back to the last digit: JSON holds the shortest text that does.
        Source: own rule. Checked: tests/unit/test_estimates.py
        """
        told = hashlib.blake2b(f"{what}|{beside!r}|{rows.schema!r}|".encode(), digest_size=16)
        told.update(rows.hash_rows().to_numpy().tobytes())
        key = told.hexdigest()
        text = self.asked.get(key) or self._known.get(key) or json.dumps(make())
        self.asked[key] = text
        found: list[Any] = json.loads(text)
        return found
