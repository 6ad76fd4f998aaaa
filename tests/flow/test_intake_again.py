"""Only a delivery that is loaded and stands is known: whatever else is dropped again is tried again."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
import xlsxwriter

from tests.conftest import NOW

if TYPE_CHECKING:
    from tests.conftest import DropFolder

PLAYERS = "player_id,alias,health_consent\nP7,Heron,true\nP8,Plover,true\n"
SHOTS = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\nS1,P1,1,2026-03-14T10:01:00,driver,45\n"
FOREIGN = "who,name\nP7,Heron\n"
MAPPING = 'kind = "players"\n[columns.player_id]\nfrom = "who"\n[columns.alias]\nfrom = "name"\n'


def aliases(folder: DropFolder) -> list[str]:
    return folder.rows("select alias from player order by alias")["alias"].to_list()


def test_a_held_file_renamed_as_the_hint_says_is_loaded(folder: DropFolder) -> None:
    folder.drop("my people.csv", PLAYERS)
    assert folder.files()["my people.csv"].reason == "unknown_kind"
    folder.drop("players_a.csv", PLAYERS)
    assert folder.files()["players_a.csv"].status == "loaded"
    assert aliases(folder) == ["Heron", "Plover"]
    assert folder.names("quarantine") == []
    assert (folder.names("inbox"), folder.faults()) == ([], {})


def test_a_held_file_that_is_still_not_understood_is_held_and_told_again(folder: DropFolder) -> None:
    folder.drop("my people.csv", PLAYERS)
    folder.run()
    folder.drop("our people.csv", PLAYERS)
    assert folder.files()["our people.csv"].status == "held"
    assert [name.split(".")[0] for name in folder.names("quarantine")] == ["our_people"] * 2
    assert folder.rows("select name from file")["name"].to_list() == ["our people.csv"]


@pytest.mark.parametrize(("first", "reason"), [("", "no_mapping"), ('kind = "players"\nunheard = 1\n', "bad_mapping")])
def test_a_file_whose_mapping_came_or_was_corrected_is_loaded(folder: DropFolder, first: str, reason: str) -> None:
    mapping = folder.root / "mappings" / "club.toml"
    if first:
        mapping.write_text(first)
    folder.drop("club/list.csv", FOREIGN)
    assert folder.files()["club/list.csv"].reason == reason
    mapping.write_text(MAPPING)
    folder.drop("club/list.csv", FOREIGN)
    assert folder.files()["club/list.csv"].status == "loaded"
    assert aliases(folder) == ["Heron"]
    assert folder.faults() == {}


def test_a_corrected_mapping_reads_a_loaded_file_anew(folder: DropFolder) -> None:
    mapping = folder.root / "mappings" / "club.toml"
    mapping.write_text(MAPPING.replace('from = "name"', 'from = "who"'))
    folder.drop("club/list.csv", FOREIGN, clock=5)
    folder.run()
    assert aliases(folder) == ["P7"]
    mapping.write_text(MAPPING)
    folder.drop("club/list.csv", FOREIGN, clock=5)
    folder.run(NOW + timedelta(hours=1))
    assert aliases(folder) == ["Heron"]
    assert folder.faults() == {}


def test_a_file_that_was_mostly_bad_is_tried_again(folder: DropFolder) -> None:
    folder.drop("shots_a.csv", SHOTS.replace("club_speed_mps", "Club_speed_mps").replace(",45", ",fast"))
    assert folder.files()["shots_a.csv"].reason == "mostly_bad"
    folder.people()
    folder.run()
    folder.drop("shots_a.csv", SHOTS)
    folder.run()
    assert folder.rows("select count(*) as n from shot")["n"].item() == 1
    assert folder.faults() == {}


def test_two_sheets_of_one_workbook_under_two_mappings_are_both_taken(folder: DropFolder) -> None:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        for sheet, name in (("first", "Heron"), ("second", "Plover")):
            page = book.add_worksheet(sheet)
            page.write_row(0, 0, ["who", "name"])
            page.write_row(1, 0, ["P7" if sheet == "first" else "P8", name])
    for sheet in ("first", "second"):
        (folder.root / "mappings" / f"{sheet}.toml").write_text(f'sheet = "{sheet}"\n{MAPPING}')
        folder.drop(f"{sheet}/list.xlsx", out.getvalue())
    folder.run()
    assert aliases(folder) == ["Heron", "Plover"]
    assert folder.faults() == {}


def test_an_original_dropped_again_after_a_bad_correction_stands_again(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", SHOTS)
    folder.drop("shots_b.csv", SHOTS.replace(",45", ",54"))
    folder.run()
    folder.drop("shots_a.csv", SHOTS)
    folder.run()
    assert folder.rows("select club_speed_mps from shot")["club_speed_mps"].to_list() == [45.0]
    assert folder.rows("select name from file where status = 'superseded'")["name"].to_list() == ["shots_b.csv"]
    assert folder.faults() == {}


@pytest.mark.parametrize("nights", [("121",), ("1", "21"), ("12", "1"), ("1", "2", "1"), ("12121",), ("1", "1221")], ids=" ".join)
def test_an_answer_that_comes_again_after_another_one_stands(folder: DropFolder, nights: tuple[str, ...]) -> None:
    folder.people("P1")
    for night, answers in enumerate(nights):
        for at, fatigue in enumerate(answers):
            folder.drop(f"checkins_{night}{at}.csv", f"player_id,date,fatigue\nP1,2026-03-14,{fatigue}\n")
        assert {outcome.status for outcome in folder.files().values()} <= {"loaded", "unchanged"}
        assert folder.rows("select fatigue from checkin").rows() == [(int(answers[-1]),)]
        assert folder.names("inbox") == []
        assert folder.faults() == {}


def test_a_held_file_that_comes_under_another_name_is_not_told_to_be_gone(folder: DropFolder) -> None:
    folder.drop("my people.csv", PLAYERS)
    folder.run()
    folder.drop("players_a.csv", PLAYERS)
    assert {name: outcome.status for name, outcome in folder.again().items()} == {"players_a.csv": "loaded"}
    assert (folder.names("quarantine"), folder.faults()) == ([], {})
