"""The warehouse of a workspace, opened for a run: never an empty one in place of one that was lost."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from pipelines.stages.intake.originals import n_originals
from schemas.errors import WarehouseError
from warehouse.connection import open_warehouse, scalar
from warehouse.rewrite import rewrite_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

    from pipelines.workspace import Workspace


READERS_S = 10.0
"""How long a run waits for those who only read: the desk, which shows what would become of a file; writers wait elsewhere [s]."""


@contextmanager
def cleaned(workspace: Workspace, *, is_bounded: bool = True) -> Iterator[duckdb.DuckDBPyConnection]:
    """The warehouse, written anew afterwards when rows that nobody may keep were taken out.

    The free space of the old file would still hold them. ``is_bounded``: see :func:`warehouse.connection.open_warehouse`.
    """
    with opened(workspace, is_bounded=is_bounded) as con:
        yield con
    if workspace.rewrite_due.exists():
        rewrite_warehouse(workspace.warehouse)
        workspace.rewrite_due.unlink()


@contextmanager
def opened(workspace: Workspace, *, is_bounded: bool = True) -> Iterator[duckdb.DuckDBPyConnection]:
    """The warehouse; never an empty one beside originals that a full one was made from: it would publish an empty academy.

    Raises
    ------
    WarehouseError
        When it is missing or empty, and the archive is not.
    """
    n = n_originals(workspace.archive)
    if n and not workspace.warehouse.exists():
        raise _lost(workspace, n, "is missing")
    with open_warehouse(workspace.warehouse, wait_s=READERS_S, is_bounded=is_bounded) as con:
        if n and not scalar(con, "select count(*) from file"):
            raise _lost(workspace, n, "is empty")
        yield con


def _lost(workspace: Workspace, n: int, state: str) -> WarehouseError:
    return WarehouseError(
        f"{workspace.warehouse} {state}, and archive/ holds {n} original{'s' if n > 1 else ''}; nothing was changed.",
        "Make it anew with `speedworth rebuild`, or bring back a copy with `speedworth restore BACKUP`; keep archive/ as it is.",
    )
