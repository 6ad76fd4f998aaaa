"""An absence that nobody ended is told to the physio, and ended at the desk."""

from __future__ import annotations

import re
import shutil
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, run_night, take_in_waiting
from pipelines.workspace import Workspace
from tests.flow.desk_visitor import opened_desk, send, visitor
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.desk.visit import Desk

MORNING = datetime(2026, 1, 13, 7, tzinfo=UTC)


@pytest.fixture
def desk(rendered: Path, tmp_path: Path) -> Desk:
    """Away since December, and back on the range since: nobody wrote that it was over."""
    shutil.copytree(rendered, tmp_path / "academy")
    found = Workspace(tmp_path / "academy")
    (found.inbox / "absences_winter.csv").write_text(
        "player_id,began_on,kind,region,onset\nheron,2025-12-20,injury,lower_back,gradual\n", encoding="utf-8"
    )
    (found.inbox / "sessions_back.csv").write_text(
        "session_id,player_id,started_at,kind,swings_full\nh-0112,heron,2026-01-12 17:30,range,40\n", encoding="utf-8"
    )
    run_night(Night(found, MORNING - timedelta(minutes=5)))
    return opened_desk(found, lambda: MORNING)


def test_an_absence_without_an_end_is_told_to_the_physio_alone(desk: Desk) -> None:
    site = desk.workspace.site
    physio, coach = ((site / who / "index.html").read_text(encoding="utf-8") for who in ("physio", "coach"))
    assert "Away with no end entered:" in physio
    told = re.search(r"\(injury, since 20 December 2025; sessions on (\d) days since, the last on 12 January 2026\)", physio)
    assert told
    assert "Away with no end entered" not in coach
    with visitor(desk, "coach") as coach_visit:
        assert coach_visit.get("/absences").status_code == 403
        assert "/absences" not in coach_visit.get("/").text


def test_the_physio_ends_it_and_what_else_was_said_of_it_stands(desk: Desk) -> None:
    with visitor(desk, "physio") as physio:
        assert "1 absence has no end yet." in physio.get("/").text
        assert send(physio, "/absences", "/absences", ended_on="2026-02-01").status_code == 422
        assert send(physio, "/absences", "/absences", ended_on="2025-12-19").status_code == 422
        assert send(physio, "/absences", "/absences", ended_on="").status_code == 422
        done = send(physio, "/absences", "/absences", ended_on="2026-01-11")
        assert "The end is handed in." in done.text
        assert "No absence is without an end." in done.text
        assert "/absences" not in physio.get("/").text
    take_in_waiting(Night(desk.workspace, MORNING + timedelta(minutes=5)))
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        (row,) = frame(con, "select * from absence where player_id = 'heron' and kind = 'injury'").to_dicts()
    told = (row["began_on"], row["ended_on"], row["region"], row["onset"])
    assert told == (date(2025, 12, 20), date(2026, 1, 11), "lower_back", "gradual")
    with visitor(desk, "physio") as physio:
        assert "No absence is without an end." in physio.get("/absences").text
