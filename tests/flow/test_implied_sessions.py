"""An export whose mapping makes its sessions is held against its player's own sessions, as any other file of shots is."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.conftest import DropFolder

MAPPING = """kind = "shots"
[session]
kind = "range"
[columns]
struck_at.from = "at"
shot_no.number_rows = true
player_id.from = "who"
club.from = "club"
club_speed_mps.from = "speed"
session_id.template = "{player_id}-{day}"
"""
MPH = 0.44704
"""By definition: a mile of 1609.344 m an hour."""


def _export(day: str, speed: float) -> str:
    return "at,who,club,speed\n" + "".join(f"{day} 10:{n:02d}:00,P1,driver,{speed + n / 10:.1f}\n" for n in range(10))


def test_the_first_export_of_a_day_is_held_against_the_days_before(folder: DropFolder) -> None:
    folder.people("P1", sessions="")
    (folder.root / "mappings").mkdir(exist_ok=True)
    (folder.root / "mappings" / "bay.toml").write_text(MAPPING)
    for day in range(1, 5):
        folder.drop(f"bay/{day}.csv", _export(f"2026-03-0{day}", 27))
        assert folder.files()[f"bay/{day}.csv"].n_loaded == 10
    folder.drop("bay/odd.csv", _export("2026-03-08", 27 / MPH))
    odd = folder.files()["bay/odd.csv"]
    assert (odd.reason, odd.n_loaded) == ("values_look_wrong", 0)
    assert "times what it is in this player's own sessions with this club: is it in other units?" in odd.says
    folder.drop("bay/5.csv", _export("2026-03-09", 28))
    assert folder.files()["bay/5.csv"].n_loaded == 10


def test_sides_that_are_the_mirror_of_the_days_before_are_told_of_without_a_spin_axis(folder: DropFolder) -> None:
    """A player who starts balls to the left and fades them: what a night reads of the days before."""
    folder.people("P1", sessions="")
    (folder.root / "mappings").mkdir(exist_ok=True)
    more = 'carry_m.from = "carry"\ndirection_deg.from = "start"\noffline_m.from = "end"\n'
    (folder.root / "mappings" / "bay.toml").write_text(MAPPING + more)

    def export(day: int, sign: int) -> str:
        rows = [
            f"2026-03-0{day} 10:{n:02d}:00,P1,driver,{45 + n / 10:.1f},{200 + n},"
            f"{sign * (n % 3 + day / 20 - 2.5):.2f},{sign * (n % 5)}"
            for n in range(10)
        ]
        return "\n".join(["at,who,club,speed,carry,start,end", *rows]) + "\n"

    for day in range(1, 6):
        folder.drop(f"bay/{day}.csv", export(day, 1))
        folder.run()
    for name, sign, told in (("same", 1, 0), ("mirrored", -1, 1)):
        folder.drop(f"bay/{name}.csv", export(7 + told, sign))
        outcome = folder.files()[f"bay/{name}.csv"]
        assert (outcome.n_loaded, outcome.n_warnings) == (10, told)
    assert folder.rows("select value from problem where rule = 'sides_look_swapped'").rows() == [("P1-2026-03-08",)]
