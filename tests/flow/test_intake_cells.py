"""A bad cell that nothing depends on costs that cell; words of the trade are understood; a file that waits says for which."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from pipelines.stages.intake.cast import typed
from schemas.fields import FIELDS
from schemas.files import KINDS
from schemas.synonyms import SYNONYMS
from tests.conftest import NOW

if TYPE_CHECKING:
    from tests.conftest import DropFolder

import polars as pl

HEADER = "session_id,player_id,shot_no,struck_at,club,club_speed_mps,ball_speed_mps,spin_rpm,counts\n"


def shot(n: int, rest: str = "driver,45,65,2500,true", player: str = "P1", session: str = "S1") -> str:
    return f"{session},{player},{n},2026-03-14T10:{n:02d}:00,{rest}\n"


def test_a_bad_optional_cell_is_emptied_and_listed_and_its_row_goes_on(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", HEADER + shot(1, "driver,45,65,99999,maybe") + shot(2, "driver,45,65,x,true") + shot(3))
    file = folder.files()["shots_a.csv"]
    assert (file.status, file.n_loaded, file.n_quarantined, file.n_emptied) == ("loaded", 3, 0, 3)
    assert folder.rows("select spin_rpm, counts, ball_speed_mps from shot order by shot_no").rows() == [
        (None, None, 65.0), (None, True, 65.0), (2500.0, True, 65.0),
    ]  # fmt: skip
    told = folder.rows("select line, \"column\", value, rule from problem where severity = 'emptied' order by 1, 2")
    assert told.rows() == [
        (2, "counts", "maybe", "not_true_or_false"), (2, "spin_rpm", "99999", "out_of_range"),
        (3, "spin_rpm", "x", "not_a_number"),
    ]  # fmt: skip
    assert "99999" in next((folder.root / "quarantine").glob("*.problems.csv")).read_text()
    assert folder.rows("select n_emptied from file where name = 'shots_a.csv'")["n_emptied"].item() == 3
    assert folder.faults() == {}


def test_a_bad_required_cell_and_a_row_that_needs_its_bad_cell_go_to_quarantine(folder: DropFolder) -> None:
    folder.people()
    rows = shot(1, "zebra,45,65,99999,true") + shot(2, "driver,fast,,,true") + "".join(shot(n) for n in range(3, 7))
    folder.drop("shots_a.csv", HEADER + rows)
    file = folder.files()["shots_a.csv"]
    assert (file.n_loaded, file.n_quarantined, file.n_emptied) == (4, 2, 0)
    told = folder.rows("select line, \"column\", severity from problem where severity <> 'warning' order by 1, 2").rows()
    assert told == [(2, "club", "error"), (2, "spin_rpm", "error"), (3, "club_speed_mps", "error")]
    assert folder.faults() == {}


def test_an_impossible_cell_does_not_break_the_rules_that_it_would_break_as_it_stands(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", HEADER + shot(1, "driver,1,65,2500,true") + shot(2) + shot(3))
    assert folder.files()["shots_a.csv"].n_loaded == 3
    assert folder.rows("select rule from problem where severity <> 'warning'")["rule"].to_list() == ["out_of_range"]


def test_one_wrong_word_in_the_players_file_does_not_hold_the_academy(folder: DropFolder) -> None:
    folder.drop("players_a.csv", "player_id,alias,sex,handed\nP1,Heron,zebra,R\nP2,Plover,f,left\n")
    folder.drop("sessions_a.csv", "session_id,player_id,started_at,kind\nS1,P1,2026-03-14T10:00:00,range\n")
    folder.drop("shots_a.csv", HEADER + shot(1))
    assert [file.n_quarantined for file in folder.run().files] == [0, 0, 0]
    assert folder.rows("select sex, handed from player order by player_id").rows() == [(None, "right"), ("female", "left")]
    assert folder.rows("select count(*) as n from shot")["n"].item() == 1


def test_a_file_that_waits_says_for_which_each_once_and_is_taken_when_they_come(folder: DropFolder) -> None:
    folder.drop("shots_a.csv", HEADER + "".join(shot(n) for n in range(1, 30)) + shot(30, player="P9", session="S9"))
    file = folder.files()["shots_a.csv"]
    assert (file.status, file.reason, file.n_quarantined) == ("held", "waits_for_others", 30)
    told = folder.rows("select value, rule, severity from problem order by severity desc, rule, value").rows()
    assert told == [
        ("players P1, P9; sessions S1, S9", "waits_for_others", "held"),
        ("P1", "unknown_player", "error"), ("P9", "unknown_player", "error"),
        ("S1", "unknown_session", "error"), ("S9", "unknown_session", "error"),
    ]  # fmt: skip
    folder.people("P1 P9", sessions="S1 S9")
    folder.run(NOW)
    assert folder.rows("select count(*) as n from shot")["n"].item() == 30
    assert folder.faults() == {}


@pytest.mark.parametrize(("column", "word", "own"), [
    ("club", "D", "driver"), ("club", "DR", "driver"), ("club", "1W", "driver"), ("club", "3w", "3-wood"),
    ("club", "7i", "7-iron"),
    ("club", "Eisen 7", "7-iron"), ("club", "7 iron", "7-iron"), ("club", "PW", "pitching-wedge"), ("club", "4H", "4-hybrid"),
])  # fmt: skip
def test_words_of_the_trade_are_understood(column: str, word: str, own: str) -> None:
    values, faults = typed(KINDS["shots"], pl.DataFrame({column: [word]}), "Europe/Berlin")
    assert (values[column].item(), faults.height) == (own, 0)


@pytest.mark.parametrize("name", list(SYNONYMS))
def test_no_synonym_means_two_things_or_hides_one_of_our_own_words(name: str) -> None:
    field = FIELDS[name]
    assert set(SYNONYMS[name].values()) <= set(field.allowed)
    assert not set(SYNONYMS[name]) & set(field.allowed)
    assert all(word == word.lower().strip() for word in SYNONYMS[name])


def test_a_header_that_stands_further_down_is_told_by_its_line(folder: DropFolder) -> None:
    folder.people()
    head = "session_id,player_id,shot_no,struck_at,club,club_speed_mps"
    folder.drop("shots_a.csv", f"Bay report\nprinted in March\n{head}\nS1,P1,1,2026-03-14T10:00:00,driver,44\n")
    folder.drop("shots_b.csv", "Bay report\nprinted, in March\nS1,P1,1,2026-03-14T10:00:00,driver,44\n")
    folder.run()
    told = folder.rows("select hint from problem where rule = 'column_missing' order by hint")["hint"].to_list()
    assert told == [
        "Add the column, or write a mapping with `speedworth map FILE`.",
        "The header seems to be in line 3: delete the lines above it, or write a mapping with skip_lines.",
    ]


def test_a_year_of_birth_of_somebody_who_cannot_play_yet_is_told_of(folder: DropFolder) -> None:
    this_year = NOW.year
    years = (this_year, this_year - 2, this_year - 3, this_year - 16, this_year + 1)
    folder.drop("players_a.csv", "player_id,alias,birth_year\n" + "".join(f"P{n},N{n},{year}\n" for n, year in enumerate(years)))
    assert folder.files()["players_a.csv"].n_loaded == 5
    told = folder.rows("select line, value from problem where rule = 'born_too_late' order by line").rows()
    assert told == [(2, str(this_year)), (3, str(this_year - 2)), (6, str(this_year + 1))]


def test_two_players_of_one_name_are_told_of(folder: DropFolder) -> None:
    folder.drop("players_a.csv", "player_id,alias\nP1,Alder\nP2,Birch\nP3,Cedar\n")
    assert folder.files()["players_a.csv"].n_warnings == 0
    folder.drop("players_b.csv", "player_id,alias\nP4, alder\nP5,Elm\nP6,ELM\n")
    assert folder.files()["players_b.csv"].n_loaded == 3
    told = "select line, value from problem where rule = 'alias_of_another' order by line"
    assert folder.rows(told).rows() == [(2, "alder (P1)"), (3, "Elm (P6)"), (4, "ELM (P5)")]
    folder.drop("players_c.csv", "player_id,alias\nP4,Alder Q.\nP6,Elm R.\nP3,Cedar\n")
    assert folder.files()["players_c.csv"].n_warnings == 0, "nobody is called as before"
    folder.drop("players_d.csv", "player_id,alias\nP1,Maple\nP9,Alder\n")
    assert folder.files()["players_d.csv"].n_warnings == 0, "P1 has given the name up"


def test_a_session_of_somebody_who_has_left_is_told_of(folder: DropFolder) -> None:
    folder.drop("players_a.csv", "player_id,alias,left_on\nP1,Alder,2026-03-10\nP2,Birch,\n", clock=-2)
    rows = [f"{who}-{day},{who},2026-03-{day}T10:00:00,range\n" for who in ("P1", "P2") for day in ("09", "11", "12")]
    folder.drop("sessions_a.csv", "session_id,player_id,started_at,kind\n" + "".join(rows))
    assert folder.files()["sessions_a.csv"].n_loaded == 6
    told = folder.rows("select line, value from problem where rule = 'after_leaving'").rows()
    assert [(line, value[-20:]) for line, value in told] == [(4, "(left_on 2026-03-10)")]


def test_ids_that_differ_in_capitals_alone_are_told_of(folder: DropFolder) -> None:
    folder.drop("players_a.csv", "player_id,alias\nP1,Alder\np2,Birch\n")
    assert folder.files()["players_a.csv"].n_warnings == 0
    folder.drop("players_b.csv", "player_id,alias\np1,Cedar\np2,Birch\nQ3,Elm\nq3,Oak\n")
    assert folder.files()["players_b.csv"].warned == (("id_like_another", 3),)
    told = "select line, value from problem where rule = 'id_like_another' order by line"
    assert folder.rows(told).rows() == [(2, "p1 (P1)"), (4, "Q3 (q3)"), (5, "q3 (Q3)")]
