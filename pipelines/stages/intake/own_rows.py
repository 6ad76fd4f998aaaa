"""Rows that a command writes into the inbox, checked before they are written: the intake would only refuse them at night."""

from __future__ import annotations

from typing import Any

import polars as pl

from pipelines.stages.intake.check import Known, checked
from schemas.errors import UsageError
from schemas.files import KINDS
from schemas.spreadsheet import cell_text

_SHOWN = 60


def require_loadable(kind: str, row: dict[str, Any]) -> None:
    """Refuse a row that breaks the contract of its kind of file.

    Parameters
    ----------
    kind : str
    row : dict
        Column to value; None is an empty cell.

    Raises
    ------
    UsageError
        With the first column that cannot be, what is allowed there, and what to do.
    """
    cells = pl.DataFrame(
        {name: [cell_text(value).strip() or None] for name, value in row.items()}, schema=dict.fromkeys(row, pl.String)
    )
    found = checked(KINDS[kind], cells, pl.Series([0], dtype=pl.Int32), "Etc/UTC", Known(None, None)).problems
    for problem in found.head(1).iter_rows(named=True):
        value = problem["value"] if len(problem["value"]) <= _SHOWN else f"{problem['value'][:_SHOWN]} ..."
        raise UsageError(f"{problem['column']} cannot be {value!r}: allowed is {problem['allowed']}.", problem["hint"])
