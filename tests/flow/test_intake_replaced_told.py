"""A file that replaces rows of another, or comes behind a newer one, is told as such where the intake was started."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.flow.test_intake_columns_kept import shots

if TYPE_CHECKING:
    from tests.conftest import DropFolder


def test_a_correction_an_old_copy_and_the_same_dropped_anew_say_what_they_met(folder: DropFolder) -> None:
    folder.people("P1", sessions="S1")
    folder.drop("shots_a.csv", shots(), clock=5)
    assert folder.files()["shots_a.csv"].note == ""
    folder.drop("shots_b.csv", shots(speed=44.0), clock=7)
    assert folder.files()["shots_b.csv"].note == "replaces 6 rows of shots_a.csv"
    folder.drop("shots_c.csv", shots(speed=43.0), clock=6)
    assert folder.files()["shots_c.csv"].note == "6 rows there newer, in shots_b.csv"
    folder.drop("shots_a.csv", shots(), clock=9)
    assert folder.files()["shots_a.csv"].note == "replaces 6 rows of shots_b.csv"
    assert folder.rows("select min(club_speed_mps) from shot").item() == 45.1


def test_two_files_of_one_session_that_come_together_say_so(folder: DropFolder) -> None:
    folder.people("P1", sessions="S1")
    folder.drop("shots_a.csv", shots(), clock=5)
    folder.drop("shots_b.csv", shots(speed=44.0), clock=7)
    notes = {name: one.note for name, one in folder.files().items() if name.startswith("shots")}
    assert notes == {"shots_a.csv": "6 rows there newer, in shots_b.csv", "shots_b.csv": "replaces 6 rows of shots_a.csv"}
