"""A newer file of the same shots that has lost a column: asked about, for what was read would be gone without a word."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from pipelines.stages.intake import Readings, check_file
from tests.conftest import NOW
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from tests.conftest import DropFolder

HEADER = "session_id,player_id,shot_no,struck_at,club,club_speed_mps"


def shots(more: str = "", value: str = "", speed: float = 45.0) -> str:
    head, end = (f",{more}", f",{value}") if more else ("", "")
    rows = (f"S1,P1,{n},2026-03-14T10:{n:02d}:00,driver,{speed + n / 10}{end}\n" for n in range(1, 7))
    return f"{HEADER}{head}\n" + "".join(rows)


def standing(folder: DropFolder, column: str) -> list[tuple[object, ...]]:
    return folder.rows(f"select min(club_speed_mps), count({column}) from shot").rows()


@pytest.mark.parametrize(("column", "value"), [("spin_rpm", "2600"), ("attack_deg", "2.5"), ("counts", "false")])
def test_a_correction_that_has_lost_a_column_is_asked_about_and_taken_when_confirmed(
    folder: DropFolder, column: str, value: str
) -> None:
    folder.people("P1", sessions="S1")
    folder.drop("shots_a.csv", shots(column, value))
    folder.run()
    folder.drop("shots_b.csv", shots(speed=44.0), clock=5)
    asked = folder.files()["shots_b.csv"]
    assert (asked.status, asked.reason) == ("held", "needs_confirming")
    assert f"S1: no {column}, which 6 shots had so far" in asked.says
    assert standing(folder, column) == [(45.1, 6)]
    assert folder.again(accepted=True)["shots_b.csv"].status == "loaded"
    assert standing(folder, column) == [(44.1, 0)]
    assert folder.faults() == {}


def test_a_correction_with_the_same_columns_or_more_is_not(folder: DropFolder) -> None:
    folder.people("P1", sessions="S1")
    folder.drop("shots_a.csv", shots())
    folder.run()
    folder.drop("shots_b.csv", shots("spin_rpm", "2600", speed=44.0), clock=5)
    assert folder.files()["shots_b.csv"].status == "loaded"
    folder.drop("shots_c.csv", shots("spin_rpm", "2700", speed=43.0), clock=9)
    assert folder.files()["shots_c.csv"].status == "loaded"
    assert standing(folder, "spin_rpm") == [(43.1, 6)]


def test_a_look_beforehand_says_that_it_would_be_asked_about(folder: DropFolder) -> None:
    folder.people("P1 P2", sessions="S1")
    folder.drop("shots_a.csv", shots("spin_rpm", "2600"))
    folder.run()
    fewer = "\n".join(shots("spin_rpm", "2600", speed=44.0).splitlines()[:4])
    moved = "session_id,player_id,started_at,kind\nS1,P2,2026-03-14T10:00:00,range\n"
    looks = {
        "shots_b.csv": (shots(speed=44.0), "S1: no spin_rpm, which 6 shots had so far"),
        "shots_c.csv": (fewer, "S1: 3 shots in place of 6"),
        "sessions_d.csv": (moved, "S1: of P2 in place of P1"),
        "shots_e.csv": (shots("spin_rpm", "2650", speed=44.0), ""),
    }
    for name, (content, told) in looks.items():
        path = folder.root / name
        path.write_text(content)
        with open_warehouse(folder.root / "academy.duckdb", read_only=True) as con:
            found = check_file(path, Readings.of(folder.root / "mappings", folder.academy, con), NOW)
        assert (found.files[0].status, found.files[0].reason) == (("held", "needs_confirming") if told else ("loaded", ""))
        assert found.problems.filter(severity="held")["value"].to_list() == ([told] if told else [])
