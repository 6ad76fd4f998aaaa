"""Ending a trial and taking it up again: the trial is declared once more, with or without its last day.

For the command line and the desk::

    row = declared_row(con, "p07-20260314")
    path = lay_end(workspace, ended_row(row, date(2026, 3, 21), "sheet", today))       # a trials file in the inbox
    path = lay_end(workspace, resumed_row(row))
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.stages.intake.disk import write_durably
from schemas.errors import UsageError
from schemas.fields import FIELDS
from schemas.files import KINDS
from schemas.spreadsheet import csv_of
from warehouse.trial import declared_trial

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    import duckdb

    from pipelines.workspace import Workspace

RULES: tuple[str, ...] = FIELDS["end_rule"].allowed


def declared_row(con: duckdb.DuckDBPyConnection, trial_id: str) -> dict[str, Any]:
    """The columns of a trials file of that trial.

    Raises
    ------
    NotFoundError
        When no trials file has declared it yet.
    """
    row = declared_trial(con, trial_id)
    return {name: row[name] for name in KINDS["trials"].names}


def ended_row(row: dict[str, Any], ended_on: date, rule: str, today: date) -> dict[str, Any]:
    """The same declaration with an end: shots of later days do not count for the trial.

    Parameters
    ----------
    row : dict
        Columns of a trials file.
    ended_on : date
        Last day whose shots count.
    rule : str
        One of ``RULES``.
    today : date
        The academy's local day.

    Raises
    ------
    UsageError
        When there is no such rule, or the day lies before the trial or ahead.
    """
    if rule not in RULES:
        raise UsageError(f"{rule} is no rule by which a trial ends.", f"Use one of: {', '.join(RULES)}.")
    if not row["began_on"] <= ended_on <= today:
        raise UsageError(f"{ended_on} cannot be the last day of this trial.", f"Give a day from {row['began_on']} to {today}.")
    return {**row, "ended_on": ended_on, "end_rule": rule}


def resumed_row(row: dict[str, Any]) -> dict[str, Any]:
    """The same declaration without an end.

    Raises
    ------
    UsageError
        When it has none.
    """
    if row["ended_on"] is None:
        raise UsageError(f"Trial {row['trial_id']} has not been ended.", "It goes on; nothing needs to be done.")
    return {**row, "ended_on": None, "end_rule": None}


def lay_end(workspace: Workspace, row: dict[str, Any]) -> Path:
    """Write the declaration into the inbox, in place of one that still waits there."""
    path = workspace.inbox / f"trials_{row['trial_id']}_end.csv"
    write_durably(path, csv_of(pl.DataFrame([row], schema=KINDS["trials"].polars_schema())).encode())
    return path
