"""The first speeds of a player of whom nothing is known: told of once, where they would be somebody's in another unit too."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.conftest import DropFolder

HEADER = "session_id,player_id,shot_no,struck_at,club,club_speed_mps,ball_speed_mps,launch_deg,spin_rpm,carry_m\n"


def shots(speed: float, session: str = "S1", day: int = 14, player: str = "P1", flight: str = ",,,,") -> str:
    rows = [f"{session},{player},{n},2026-03-{day}T10:{n:02d}:00,driver,{speed + n / 10:.1f}{flight}\n" for n in range(1, 8)]
    return HEADER + "".join(rows)


def warned(folder: DropFolder) -> list[tuple[object, ...]]:
    return folder.rows("select line, value from problem where rule = 'first_speeds' order by line").rows()


def test_a_speed_that_would_be_a_childs_in_mph_is_told_of_once(folder: DropFolder) -> None:
    folder.people("P1 P2", sessions="S1 S2")
    folder.drop("players.csv", "player_id,alias\nP1,Heron\nP2,Stork\n", clock=-2)
    folder.drop("shots_a.csv", shots(45.0))
    outcome = folder.files()["shots_a.csv"]
    assert (outcome.status, outcome.warned) == ("loaded", (("first_speeds", 1),))
    assert warned(folder) == [(2, "45.4 m/s, 102 mph")]
    folder.drop("sessions_b.csv", "session_id,player_id,started_at,kind\nS3,P1,2026-03-15T10:00:00,range\n")
    folder.drop("shots_b.csv", shots(45.5, "S3", 15))
    assert folder.files()["shots_b.csv"].warned == (("first_speeds", 1),)  # seven shots are no session to hold others against
    assert len(warned(folder)) == 2


@pytest.mark.parametrize(
    ("speed", "flight", "born"),
    [
        (45.0, ",,,,", "2009"),
        (30.0, ",,,,", ""),  # 67 mph: read as mph it would be 30 mph, which nobody has
        (45.0, ",66,12.0,2600,215", ""),
    ],
)
def test_where_something_speaks_for_a_speed_nothing_is_said(folder: DropFolder, speed: float, flight: str, born: str) -> None:
    folder.drop("players.csv", f"player_id,alias,birth_year\nP1,Heron,{born}\n", clock=-2)
    folder.drop("sessions.csv", "session_id,player_id,started_at,kind\nS1,P1,2026-03-14T10:00:00,range\n", clock=-1)
    folder.drop("shots_a.csv", shots(speed, flight=flight))
    assert folder.files()["shots_a.csv"].status == "loaded"
    assert warned(folder) == []


def test_where_five_players_swing_this_club_nothing_is_said(folder: DropFolder) -> None:
    names = [f"P{n}" for n in range(1, 7)]
    folder.people(" ".join(names), sessions=" ".join(f"S{n}" for n in range(1, 7)))
    folder.drop("players.csv", "player_id,alias\n" + "".join(f"{name},{name} x\n" for name in names), clock=-2)
    for n, name in enumerate(names[:5], 1):
        text = shots(40.0 + n, f"S{n}", player=name) + shots(40.3 + n, f"S{n}", player=name).removeprefix(HEADER).replace(
            ",2026-03-14T10:", "7,2026-03-14T11:"
        )
        folder.drop(f"shots_{n}.csv", text)
    folder.run()
    folder.drop("shots_6.csv", shots(44.0, "S6", player="P6"))
    assert folder.files()["shots_6.csv"].warned == ()
