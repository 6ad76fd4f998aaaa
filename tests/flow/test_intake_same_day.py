"""Two visits, rounds or check-ins on one day, corrections that take something away, and files that say only a part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from pipelines.stages.withdraw import withdraw_file
from pipelines.workspace import Workspace
from schemas.errors import IntakeError
from tests.conftest import NOW

if TYPE_CHECKING:
    from tests.conftest import DropFolder

HEADER = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"
MAPPING = """kind = "shots"
[session]
kind = "range"
[columns.session_id]
template = "{player_id}-{day}"
[columns.shot_no]
number_rows = true
[columns.player_id]
from = "who"
[columns.struck_at]
from = "when"
[columns.club]
from = "club"
[columns.club_speed_mps]
from = "v"
"""


def export(*hours: int, speed: float = 45.0) -> str:
    rows = [f"P1,2026-03-14T{hour:02d}:{n:02d}:00,driver,{speed + n / 10}\n" for hour in hours for n in range(3)]
    return "who,when,club,v\n" + "".join(rows)


def shots(n: int, session: str = "S1", player: str = "P1", speed: float = 45.0) -> str:
    return HEADER + "".join(f"{session},{player},{k},2026-03-14T10:{k:02d}:00,driver,{speed + k / 10}\n" for k in range(1, n + 1))


def by_session(folder: DropFolder) -> list[tuple[object, ...]]:
    return folder.rows("select session_id, count(*) from shot group by 1 order by 1").rows()


@pytest.mark.parametrize("together", [True, False])
def test_the_evening_does_not_replace_the_morning(folder: DropFolder, together: bool) -> None:
    folder.people("P1", sessions="S9")
    (folder.root / "mappings" / "bay.toml").write_text(MAPPING)
    folder.drop("bay/morning.csv", export(9))
    if not together:
        folder.run()
    folder.drop("bay/evening.csv", export(18))
    folder.run()
    assert by_session(folder) == [("P1-2026-03-14", 3), ("P1-2026-03-14-2", 3)]
    assert folder.rows("select session_id from session order by 1")["session_id"].to_list() == [
        "P1-2026-03-14", "P1-2026-03-14-2", "S9",
    ]  # fmt: skip
    folder.drop("bay/evening_corrected.csv", export(18, speed=46.0))
    folder.run()
    assert by_session(folder) == [("P1-2026-03-14", 3), ("P1-2026-03-14-2", 3)]
    assert folder.rows("select max(club_speed_mps) as v from shot")["v"].item() == 46.2
    assert folder.faults() == {}


def test_two_visits_in_one_file_are_two_sessions(folder: DropFolder) -> None:
    folder.people("P1", sessions="S9")
    (folder.root / "mappings" / "bay.toml").write_text(MAPPING)
    folder.drop("bay/day.csv", export(9, 18))
    folder.run()
    assert by_session(folder) == [("P1-2026-03-14", 3), ("P1-2026-03-14-2", 3)]


def test_two_rounds_on_one_day_stay_both(folder: DropFolder) -> None:
    folder.people()
    folder.drop("rounds_a.csv", "player_id,played_on,round_no,strokes\nP1,2026-03-14,1,72\nP1,2026-03-14,2,74\n")
    folder.drop("rounds_b.csv", "player_id,played_on,round_no,strokes\nP1,2026-03-14,2,75\n")
    folder.run()
    assert folder.rows("select round_no, strokes from round order by 1").rows() == [(1, 72), (2, 75)]
    assert folder.faults() == {}


@pytest.mark.parametrize("late_first", [False, True])
def test_later_answers_of_a_day_fill_and_do_not_wipe(folder: DropFolder, late_first: bool) -> None:
    folder.people()
    drops = [("checkins_am.csv", "sleep_h,fatigue", "7,3", 10), ("checkins_pm.csv", "fatigue,soreness", "6,4", 20)]
    for name, columns, values, clock in reversed(drops) if late_first else drops:
        folder.drop(name, f"player_id,date,{columns}\nP1,2026-03-14,{values}\n", clock=clock)
        folder.run()
    assert folder.rows("select sleep_h, fatigue, soreness from checkin").rows() == [(7.0, 6.0, 4.0)]
    assert folder.faults() == {}


def test_taking_back_the_later_answers_leaves_the_earlier(folder: DropFolder) -> None:
    folder.people()
    for n, values in enumerate(("sleep_h\nP1,2026-03-14,7", "fatigue\nP1,2026-03-14,6", "soreness\nP1,2026-03-14,4")):
        folder.drop(f"checkins_{n}.csv", f"player_id,date,{values}\n")
    folder.run()
    with pytest.raises(IntakeError, match="newer file has taken over"):
        withdraw_file(Workspace(folder.root), "checkins_0.csv", NOW)
    withdraw_file(Workspace(folder.root), "checkins_2.csv", NOW)
    folder.run()
    assert folder.rows("select sleep_h, fatigue, soreness from checkin").rows() == [(7.0, 6.0, None)]
    assert folder.faults() == {}


def test_a_names_only_players_file_changes_names_only(folder: DropFolder) -> None:
    folder.drop("players_a.csv", "player_id,alias,handed,left_on,health_consent\nP1,Heron,left,2026-05-01,true\n")
    folder.run()
    folder.drop("players_names.csv", "player_id,alias\nP1,Plover\n")
    folder.run()
    assert folder.rows("select alias, handed, health_consent, left_on is null from player").rows() == [
        ("Plover", "left", True, False)
    ]
    folder.drop("players_back.csv", "player_id,alias,left_on\nP1,Plover,\n")
    folder.run()
    assert folder.rows("select handed, left_on from player").rows() == [("left", None)]
    assert folder.faults() == {}


def test_a_sessions_file_without_a_column_leaves_what_was_said_there(folder: DropFolder) -> None:
    """Effort comes from the player in the evening; the device's list of sessions, handed in again, knows nothing of it."""
    folder.people("P1", sessions="S1")
    head = "session_id,player_id,started_at,kind"
    folder.drop("sessions_effort.csv", f"{head},duration_min,effort\nS1,P1,2026-03-14T10:00:00,range,60,7\n")
    folder.run()
    folder.drop("sessions_again.csv", f"{head},duration_min\nS1,P1,2026-03-14T10:00:00,range,75\n")
    folder.run()
    said = "select duration_min, effort from session"
    assert folder.rows(said).rows() == [(75.0, 7.0)]
    folder.drop("sessions_emptied.csv", f"{head},effort\nS1,P1,2026-03-14T10:00:00,range,\n")
    folder.run()
    assert folder.rows(said).rows() == [(75.0, None)]
    withdraw_file(Workspace(folder.root), "sessions_emptied.csv", NOW)
    folder.run()
    assert folder.rows(said).rows() == [(75.0, 7.0)]


def test_a_correction_with_fewer_shots_is_held_until_it_is_confirmed(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(10))
    folder.run()
    folder.drop("shots_b.csv", shots(8, speed=46))
    folder.drop("shots_c.csv", shots(3, session="S2", player="P2"))
    outcome = folder.files()
    assert (outcome["shots_b.csv"].reason, outcome["shots_c.csv"].status) == ("needs_confirming", "loaded")
    assert by_session(folder) == [("S1", 10), ("S2", 3)]
    assert folder.rows("select value from problem where severity = 'held'")["value"].item() == "S1: 8 shots in place of 10"
    assert folder.again()["shots_b.csv"].status == "held"
    assert folder.again(accepted=True)["shots_b.csv"].status == "loaded"
    assert by_session(folder) == [("S1", 8), ("S2", 3)]
    assert folder.faults() == {}


def test_a_correction_that_moves_a_session_to_another_player_is_held(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(10))
    folder.run()
    folder.drop("sessions_moved.csv", "session_id,player_id,started_at,kind\nS1,P2,2026-03-14T10:00:00,range\n")
    assert folder.files()["sessions_moved.csv"].reason == "needs_confirming"
    assert folder.rows("select value from problem")["value"].item() == "S1: of P2 in place of P1"
    outcome = folder.again(accepted=True)
    assert outcome["sessions_moved.csv"].status == "loaded"
    assert (outcome["shots_a.csv"].status, outcome["shots_a.csv"].n_quarantined) == ("held", 10)
    assert folder.faults() == {}


@pytest.mark.parametrize("ids", [("P1", "P2"), ("P2", "P1")])
def test_names_that_move_to_another_id_are_held_until_they_are_confirmed(folder: DropFolder, ids: tuple[str, str]) -> None:
    """A table that was sorted while its ids stayed: everybody's history would stand under another name."""
    folder.people()
    folder.run()
    (first, second) = folder.rows("select alias from player where player_id in ('P1', 'P2') order by player_id")["alias"]
    folder.drop("players_new.csv", f"player_id,alias\n{ids[0]},{second.upper()}\n{ids[1]},{first}\nP9,Whimbrel\n")
    if ids == ("P2", "P1"):
        assert folder.files()["players_new.csv"].status == "loaded", "the same names, written otherwise"
        return
    assert folder.files()["players_new.csv"].reason == "needs_confirming"
    assert folder.rows("select value from problem where severity = 'held'")["value"].item() == (
        f"P1: {second.upper()} in place of {first}, as P2 was called; P2: {first} in place of {second}, as P1 was called"
    )
    assert folder.rows("select alias from player where player_id = 'P1'")["alias"].item() == first
    assert folder.again(accepted=True)["players_new.csv"].status == "loaded"
    assert folder.rows("select alias from player where player_id = 'P1'")["alias"].item() == second.upper()
    assert folder.faults() == {}


def test_a_new_name_is_only_a_correction(folder: DropFolder) -> None:
    folder.people()
    folder.run()
    folder.drop("players_new.csv", "player_id,alias\nP1,Whimbrel\n")
    assert folder.files()["players_new.csv"].status == "loaded"


@pytest.mark.parametrize(
    ("name", "header", "one", "other"),
    [
        ("rounds", "player_id,played_on,strokes", "P1,2026-03-14", "P1,2026-03-15"),
        ("plans", "player_id,week_starting,swings_full", "P1,2026-03-09", "P2,2026-03-09"),
        ("plans", "group_name,week_starting,swings_full", "U16,2026-03-09", "U18,2026-03-09"),
    ],
)
def test_a_correction_replaces_the_row_where_a_part_of_its_key_is_empty(
    folder: DropFolder, name: str, header: str, one: str, other: str
) -> None:
    what, table = header.rpartition(",")[2], name.removesuffix("s")
    folder.people("P1 P2")
    folder.drop(f"{name}_a.csv", f"{header}\n{one},80\n{other},90\n", clock=5)
    folder.run()
    folder.drop(f"{name}_b.csv", f"{header}\n{one},77\n", clock=7)
    assert folder.files()[f"{name}_b.csv"].note == f"replaces 1 row of {name}_a.csv"
    assert folder.rows(f'select {what} from "{table}" order by 1')[what].to_list() == [77, 90]
    folder.drop(f"{name}_c.csv", f"{header}\n{one},71\n", clock=6)
    folder.run()
    assert folder.rows(f'select {what} from "{table}" order by 1')[what].to_list() == [77, 90]
    assert folder.faults() == {}
