"""A device that counts its sessions from 1 again: another visit under a known id is asked about, never put in its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from pipelines.stages.intake import Readings, check_file
from tests.conftest import NOW
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from tests.conftest import DropFolder

SESSIONS = "session_id,player_id,started_at,kind\n"
SHOTS = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"


def shots(day: int, hour: int = 10, speed: float = 45.0) -> str:
    return SHOTS + "".join(f"1,P1,{n},2026-03-{day}T{hour}:{n:02d}:00,driver,{speed + n / 10}\n" for n in range(1, 7))


def visit(day: int, hour: int = 10) -> str:
    return f"{SESSIONS}1,P1,2026-03-{day}T{hour}:00:00,range\n"


def standing(folder: DropFolder) -> list[tuple[object, ...]]:
    return folder.rows("select distinct day(started_at), day(struck_at) from session join shot using (session_id)").rows()


@pytest.mark.parametrize("together", [True, False])
def test_a_session_of_another_day_under_a_known_id_is_held_with_its_shots(folder: DropFolder, together: bool) -> None:
    folder.people("P1", sessions="S9")
    folder.drop("sessions_a.csv", visit(14))
    folder.drop("shots_a.csv", shots(14))
    if not together:
        folder.run()
    folder.drop("sessions_b.csv", visit(15, 9))
    folder.drop("shots_b.csv", shots(15, 9))
    found = folder.files()
    assert standing(folder) == [(14, 14)]
    for name in ("sessions_b.csv", "shots_b.csv"):
        assert (found[name].status, found[name].reason) == ("held", "needs_confirming")
        assert "counts its sessions from 1 again" in found[name].says
    assert "1: of 2026-03-15 09:00 in place of 2026-03-14 10:00." in found["sessions_b.csv"].says
    again = folder.again(accepted=True)
    assert {file.status for file in again.values()} == {"loaded"}
    assert standing(folder) == [(15, 15)]
    assert folder.faults() == {}


def test_a_time_that_is_corrected_and_a_file_that_grows_are_not(folder: DropFolder) -> None:
    folder.people("P1", sessions="S9")
    folder.drop("sessions_a.csv", visit(14))
    folder.drop("shots_a.csv", shots(14))
    folder.run()
    folder.drop("sessions_b.csv", visit(14, 22) + "2,P1,2026-03-20T10:00:00,range\n")
    folder.drop("shots_b.csv", shots(14, 22) + "2,P1,1,2026-03-20T10:01:00,driver,45\n")
    assert {file.status for file in folder.files().values()} == {"loaded"}
    assert folder.rows("select session_id, count(*) from shot group by 1 order by 1").rows() == [("1", 6), ("2", 1)]


def test_a_look_beforehand_says_so(folder: DropFolder) -> None:
    folder.people("P1", sessions="S9")
    folder.drop("sessions_a.csv", visit(14))
    folder.drop("shots_a.csv", shots(14))
    folder.run()
    paths = [folder.drop(f"{name}_b.csv", text) for name, text in (("sessions", visit(16)), ("shots", shots(16)))]
    with open_warehouse(folder.root / "academy.duckdb") as con:
        readings = Readings.of(folder.root / "mappings", folder.academy, con)
        looked = [check_file(path, readings, NOW) for path in paths]
    assert [one.files[0].reason for one in looked] == ["needs_confirming", "needs_confirming"]
    assert all("from 1 again" in one.problems.filter(rule="needs_confirming")["hint"].item() for one in looked)
