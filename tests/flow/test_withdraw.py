"""Files that are taken back, and files that a changed mapping or setting would read differently."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.stages.withdraw import withdraw_file
from pipelines.workspace import Workspace
from schemas.errors import IntakeError, NotFoundError
from tests.conftest import NOW

if TYPE_CHECKING:
    from schemas.results import FileOutcome
    from tests.conftest import DropFolder

HEADER = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"


def shots(*speeds: float, session: str = "S1") -> str:
    return HEADER + "".join(f"{session},P1,{n},2026-03-14T10:{n:02d}:00,driver,{speed}\n" for n, speed in enumerate(speeds, 1))


def speeds(folder: DropFolder) -> list[float]:
    return folder.rows("select club_speed_mps from shot order by session_id, shot_no")["club_speed_mps"].to_list()


def withdraw(folder: DropFolder, named: str) -> dict[str, FileOutcome]:
    withdraw_file(Workspace(folder.root), named, NOW)
    return folder.files()


def test_what_a_file_had_replaced_comes_back_when_it_is_withdrawn(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(45, 46))
    folder.drop("shots_b.csv", shots(54, 55, 56))
    folder.run()
    assert speeds(folder) == [54.0, 55.0, 56.0]
    outcome = withdraw(folder, "shots_b.csv")
    assert speeds(folder) == [45.0, 46.0]
    assert outcome["shots_a.csv"].note == "what had replaced it was taken back"
    assert folder.rows("select name, status from file where kind = 'shots' order by name").rows() == [
        ("shots_a.csv", "loaded"), ("shots_b.csv", "withdrawn"),
    ]  # fmt: skip
    assert len(folder.names("archive")) == 4
    assert folder.faults() == {}
    assert folder.files() == {}


def test_a_withdrawn_file_dropped_again_is_taken_in_again(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(45, 46))
    folder.run()
    withdraw(folder, "shots_a.csv")
    assert speeds(folder) == []
    folder.drop("shots_a.csv", shots(45, 46))
    assert folder.files()["shots_a.csv"].status == "loaded"
    assert speeds(folder) == [45.0, 46.0]
    assert folder.faults() == {}


def test_a_withdrawn_file_comes_back_from_nothing_that_arrives_later(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_b.csv", shots(54, 55, 56), clock=900)
    folder.run()
    withdraw(folder, "shots_b.csv")
    folder.drop("shots_a.csv", shots(45, 46), clock=100)
    folder.run()
    assert speeds(folder) == [45.0, 46.0]
    assert folder.faults() == {}


def test_shots_wait_again_when_their_sessions_file_is_withdrawn(folder: DropFolder) -> None:
    folder.people("P1", sessions="S1")
    folder.drop("sessions_more.csv", "session_id,player_id,started_at,kind\nS8,P1,2026-03-15T10:00:00,range\n")
    folder.drop("shots_a.csv", shots(45, session="S8"))
    folder.run()
    outcome = withdraw(folder, "sessions_more.csv")
    assert outcome["shots_a.csv"].reason == "waits_for_others"
    assert folder.faults() == {}
    folder.drop("sessions_more.csv", "session_id,player_id,started_at,kind\nS8,P1,2026-03-15T10:00:00,range\n")
    folder.run()
    assert speeds(folder) == [45.0]
    assert folder.faults() == {}


def test_players_whom_other_files_name_cannot_be_withdrawn(folder: DropFolder) -> None:
    folder.people()
    folder.run()
    with pytest.raises(IntakeError, match="name its players P1"):
        withdraw(folder, "players.csv")
    with pytest.raises(NotFoundError):
        withdraw(folder, "shots_never.csv")
    assert folder.rows("select count(*) as n from player")["n"].item() == 3


MAPPING = 'kind = "players"\n[columns.player_id]\nfrom = "who"\n[columns.alias]\nfrom = "{}"\n'


def test_a_players_file_whose_players_an_older_one_has_is_taken_back(folder: DropFolder) -> None:
    """Names, groups and consent are the older file's again; what was handed in about the body stays as the consent says."""
    folder.people("P1 P2", sessions="S1")
    folder.drop("shots_a.csv", shots(45, 46))
    folder.drop("checkins_a.csv", "player_id,date,fatigue\nP1,2026-03-14,3\n")
    folder.run()
    before = folder.core()
    folder.drop("players_b.csv", "player_id,alias,groups\nP1,Other,U16\n")
    folder.run()
    assert folder.rows("select alias, groups, health_consent from player where player_id = 'P1'").rows() == [
        ("Other", "U16", True)
    ]
    outcome = withdraw(folder, "players_b.csv")
    assert outcome["players.csv"].note == "what had replaced it was taken back"
    assert folder.core() == before
    assert folder.faults() == {}


def test_a_corrected_mapping_reads_what_it_misread_anew_and_says_so(folder: DropFolder) -> None:
    mapping = folder.root / "mappings" / "club.toml"
    mapping.write_text(MAPPING.format("who"))
    folder.drop("club/list.csv", "who,name\nP7,Heron\n")
    folder.run()
    assert folder.files() == {}
    mapping.write_text(MAPPING.format("name"))
    outcome = folder.files(NOW + timedelta(hours=1))
    assert outcome["club/list.csv"].note.startswith("read anew: its mapping")
    assert folder.rows("select alias from player")["alias"].to_list() == ["Heron"]
    assert len(folder.names("archive")) == 1
    assert folder.files() == {}
    assert folder.faults() == {}


@pytest.mark.parametrize("broken", ["", 'kind = "players"\nunheard = 1\n'])
def test_a_mapping_that_is_gone_or_broken_takes_nothing_away(folder: DropFolder, broken: str) -> None:
    """What was read through it stays until it can be read again; what comes anew is held with the reason."""
    mapping = folder.root / "mappings" / "club.toml"
    mapping.write_text(MAPPING.format("name"))
    folder.drop("club/list.csv", "who,name\nP7,Heron\n")
    folder.run()
    before = folder.core()
    if broken:
        mapping.write_text(broken)
    else:
        mapping.unlink()
    folder.drop("club/more.csv", "who,name\nP8,Stork\n")
    assert {name: file.status for name, file in folder.files().items()} == {"club/more.csv": "held"}
    assert folder.core() == before
    mapping.write_text(MAPPING.format("name"))
    assert {name: file.status for name, file in folder.files().items()} == {"club/more.csv": "loaded"}
    assert folder.rows("select alias from player order by 1")["alias"].to_list() == ["Heron", "Stork"]
    assert folder.faults() == {}


def test_a_slip_in_the_list_of_names_takes_nothing_away(folder: DropFolder) -> None:
    folder.people("P1", sessions="S9")
    (folder.root / "mappings" / "bay.toml").write_text(
        'kind = "rounds"\n[columns.player_id]\nfrom = "who"\nnames = true\n'
        '[columns.played_on]\nfrom = "day"\n[columns.strokes]\nfrom = "n"\n'
    )
    names = folder.root / "mappings" / "names.toml"
    names.write_text('[players]\n"Anna B." = "P1"\n')
    folder.drop("bay/cards.csv", "who,day,n\nAnna B.,2026-03-14,73\n")
    folder.run()
    before = folder.core()
    assert before["round"]
    names.write_text('[players]\n"Anna B." = P1\n')
    assert folder.files() == {}
    assert folder.core() == before


def test_a_changed_time_zone_reads_local_times_anew(folder: DropFolder) -> None:
    folder.people(sessions="S1")
    folder.run()
    folder.academy = replace(folder.academy, time_zone="Asia/Tokyo")
    outcome = folder.files()
    assert {file.note for file in outcome.values()} == {"read anew: the time zone has changed"}
    assert folder.rows("select started_at::varchar as at from session")["at"].item() == "2026-03-14 01:00:00"
    assert folder.faults() == {}


def test_a_held_file_is_tried_again_from_quarantine(folder: DropFolder) -> None:
    folder.drop("club/list.csv", "who,name\nP7,Heron\n")
    assert folder.files()["club/list.csv"].reason == "no_mapping"
    assert folder.again()["club/list.csv"].status == "held"
    mapping = folder.root / "mappings" / "club.toml"
    mapping.write_text(MAPPING.format("name"))
    assert folder.again()["club/list.csv"].status == "loaded"
    assert folder.names("quarantine") == []
    assert folder.faults() == {}


def test_a_known_file_is_told_with_day_and_name(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(45, 46))
    folder.run()
    folder.drop("shots_b.csv", shots(45, 46))
    assert folder.files()["shots_b.csv"].note == "already taken in on 1 June 2026 as shots_a.csv"
