"""What a night does when the memory that its warehouse may hold is too little."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from pipelines import runs
from pipelines.runs import Night, run_night
from schemas.errors import WarehouseMemoryError
from tests.flow.conftest import NIGHT
from warehouse import connection
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from pipelines.workspace import Workspace

_HELD = "select current_setting('memory_limit')"


def test_what_a_night_may_hold_follows_the_shots_that_it_has_taken_in(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "BYTES_A_SHOT", 10**9)
    held, measure = [], runs._measure

    def measured(con: duckdb.DuckDBPyConnection, *given: Any) -> None:
        held.append((scalar(con, _HELD), scalar(con, "select count(*) from shot")))
        measure(con, *given)

    monkeypatch.setattr(runs, "_measure", measured)
    run_night(Night(workspace, NIGHT))
    ((memory, n_shots),) = held
    assert n_shots > 1
    assert memory != "953.6 MiB", "that of a warehouse without shots"


def test_a_night_that_runs_short_of_memory_is_done_once_more_with_all(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    held, told, measure = [], [], runs._measure

    def short_at_first(con: duckdb.DuckDBPyConnection, *given: Any) -> None:
        held.append(scalar(con, _HELD))
        if len(held) == 1:
            raise duckdb.OutOfMemoryException("Out of Memory Error: none is left")
        measure(con, *given)

    monkeypatch.setattr(runs, "_measure", short_at_first)
    outcome = run_night(Night(workspace, NIGHT, told.append))
    assert outcome.intake.n_loaded > 0
    assert outcome.site.n_written > 0
    assert "Memory ran short: once more with all that the machine has" in told
    assert held[0] == "953.6 MiB" != held[1]


def test_a_night_that_is_short_of_all_memory_says_so(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    def short(con: duckdb.DuckDBPyConnection, *_: Any) -> None:
        raise duckdb.OutOfMemoryException("Out of Memory Error: none is left")

    monkeypatch.setattr(runs, "_measure", short)
    with pytest.raises(WarehouseMemoryError, match="Memory does not suffice") as caught:
        run_night(Night(workspace, NIGHT))
    assert "more memory" in caught.value.todo
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select count(*) from shot") > 0, "what was taken in is kept"
