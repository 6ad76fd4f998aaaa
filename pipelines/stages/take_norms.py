"""What is usual in the federation, taken from its shared folder before a night measures."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.shared_folder import open_shared
from schemas.errors import WorkspaceError
from schemas.shared import FEDERATION_NORM, NORMS_PATH
from schemas.shared_contract import broken_rule
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    import duckdb

    from pipelines.workspace import Workspace
    from schemas.academy import Academy

_KEPT = "The norms that were taken before are used."


def take_norms(con: duckdb.DuckDBPyConnection, workspace: Workspace, academy: Academy) -> str:
    """Put the federation's norms in place of those that are there; without [share] take_norms none stay.

    Returns
    -------
    str
        Why they could not be taken, so that those from before stand; empty: they could, or there are none.
    """
    if not (academy.share.folder and academy.share.take_norms):
        _replace(con, pl.DataFrame(schema=FEDERATION_NORM.polars_schema()))
        return ""
    try:
        folder = open_shared(academy.share.folder, workspace.root)
        if NORMS_PATH not in folder.names("norms"):
            return ""
        rows = pl.read_parquet(io.BytesIO(folder.read(NORMS_PATH)))
    except WorkspaceError as fault:
        return f"{fault} {_KEPT}"
    except pl.exceptions.PolarsError as fault:
        return f"{NORMS_PATH} of the shared folder cannot be read: {str(fault).splitlines()[0]} {_KEPT}"
    if wrong := broken_rule(FEDERATION_NORM, rows):
        return f"{NORMS_PATH} of the shared folder breaks its contract. {wrong} {_KEPT}"
    _replace(con, rows)
    return ""


def _replace(con: duckdb.DuckDBPyConnection, rows: pl.DataFrame) -> None:
    order = list(FEDERATION_NORM.grain)
    there = frame(con, "select * from federation_norm").sort(order)
    if not there.equals(rows.sort(order)):
        with transaction(con):
            replace_table(con, FEDERATION_NORM.name, rows.sort(order))
