"""What a draft concludes from the cells and the shape of a file: what it may be sure of by them, and what it must ask."""

# ruff: noqa: E501 - tables read best with their lines whole
from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pytest
import xlsxwriter

from pipelines.stages.intake.draft import DraftedMapping, Hints, draft_mapping

if TYPE_CHECKING:
    from pathlib import Path

ROUNDS = (
    "Player;Played on;Event;Round;Holes;Strokes\nP1;{0};Cup;1;18;70\nP2;{0};Cup;1;18;71\nP1;{1};Cup;2;18;72\nP2;{1};Cup;2;18;75\n"
)


def drafted(folder: Path, content: str | bytes, ending: str = "csv", kind: str = "") -> DraftedMapping:
    path = folder / f"export.{ending}"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return draft_mapping(path, Hints(kind))


def why(draft: DraftedMapping, target: str) -> str | None:
    """Why a column is not sure; empty when it is; None when there is none."""
    column = next((column for column in draft.columns if column.target == target), None)
    return None if column is None else "" if column.sure else column.why


def workbook(rows: list[list[object]]) -> bytes:
    data = io.BytesIO()
    with xlsxwriter.Workbook(data, {"in_memory": True}) as book:
        clock = book.add_format({"num_format": "hh:mm"})
        sheet = book.add_worksheet()
        for at, row in enumerate(rows):
            for place, cell in enumerate(row):
                sheet.write(at, place, cell, *([clock] if isinstance(cell, float) and cell < 1 else []))
    return data.getvalue()


def test_a_number_that_goes_on_the_next_day_counts_in_the_event(tmp_path: Path) -> None:
    draft = drafted(tmp_path, ROUNDS.format("16/05/2026", "17/05/2026"))
    assert (why(draft, "event_round"), why(draft, "round_no")) == ("", None)


def test_whether_two_rounds_of_one_day_are_those_of_the_event_is_asked(tmp_path: Path) -> None:
    draft = drafted(tmp_path, ROUNDS.format("16/05/2026", "16/05/2026"))
    assert why(draft, "round_no") == "it could also be event_round"
    without = drafted(tmp_path, ROUNDS.format("16/05/2026", "16/05/2026").replace("Event;", "").replace("Cup;", ""))
    assert why(without, "round_no") == ""


@pytest.mark.parametrize(("head", "asked"), [("Spin", True), ("Spin (rpm)", False)])
def test_a_mark_before_three_digits_is_asked_about_where_no_unit_is_written(head: str, asked: bool, tmp_path: Path) -> None:
    text = f"Player;Date;Time;Club;Club speed (mph);{head}\nP1;17/03/2026;11:00;Driver;94,5;2.641\nP1;17/03/2026;11:01;Driver;95,5;2.703\n"
    assert ("could separate thousands" in (why(drafted(tmp_path, text), "spin_rpm") or "")) is asked


def test_a_line_below_the_table_is_no_row(tmp_path: Path) -> None:
    text = "Player ID,Name,Sex,Height (cm)\nP1,Alder,female,170\nP2,Birch,male,180\n\n2 players,,,\n"
    draft = drafted(tmp_path, text)
    assert '"Player ID" = ["2 players"]' in draft.text
    assert why(draft, "player_id") == ""
    kept = drafted(tmp_path, text.replace("2 players,,,", "P3,,,"))
    assert "[ignore]" not in kept.text


def test_a_column_right_of_the_last_group_does_not_belong_to_it(tmp_path: Path) -> None:
    text = (
        "Player,Date,Hip internal rotation,,Trunk rotation,,\n,,Left (deg),Right (deg),Left (deg),Right (deg),Tester\n"
        "P1,2026-01-19,31,32,47,42,AB\nP2,2026-01-20,33,35,44,41,CD\n"
    )
    draft = drafted(tmp_path, text)
    assert (draft.kind, why(draft, "test"), why(draft, "side"), why(draft, "player_id")) == ("mobility", "", "", "")
    assert draft.roles["Trunk rotation Tester"] == ""


def test_nor_does_it_turn_a_problem_form_into_another(tmp_path: Path) -> None:
    questions = "Participation (0-3),Symptoms (0-3)"
    text = f"Player,Week ending,Neck,,Left knee,,\n,,{questions},{questions},Filled in by\nP1,2026-03-15,2,1,0,3,EK\nP2,2026-03-22,0,0,1,2,AB\n"
    draft = drafted(tmp_path, text)
    assert (draft.kind, why(draft, "region")) == ("problems", "")
    assert why(draft, "participation") == ""
    assert "Left knee Filled in by" in draft.left_out


@pytest.mark.parametrize(
    ("head", "cells", "target"),
    [("M/F", "MF", "sex"), ("Left/Right handed", ("L", "R"), "handed"), ("Plays right/left", ("R", "L"), "handed")],
)
def test_a_header_may_list_the_words_below_it(head: str, cells: tuple[str, str], target: str, tmp_path: Path) -> None:
    draft = drafted(tmp_path, f"Player ID,Name,Year of birth,{head}\nP1,Alder,2009,{cells[0]}\nP2,Birch,2010,{cells[1]}\n")
    assert why(draft, target) == ""


def test_the_stronger_hand_is_not_surely_the_side_of_play(tmp_path: Path) -> None:
    draft = drafted(tmp_path, "Player ID,Name,Dominant hand\nP1,Alder,R\nP2,Birch,L\n", kind="players")
    assert "the other side" in (why(draft, "handed") or "")


def test_words_are_no_day_and_what_they_say_is_proposed(tmp_path: Path) -> None:
    text = "Spieler;Erster Fehltag;Letzter Fehltag;Grund;Beginn\nP1;13.01.2026;22.01.2026;Krankheit;schleichend\nP2;14.01.2026;15.01.2026;Verletzung;plötzlich\n"
    draft = drafted(tmp_path, text)
    assert why(draft, "began_on") == ""
    assert why(draft, "onset") == "what stands in it says so, its name does not"


def test_a_name_of_ours_says_its_unit_in_a_file_of_others(tmp_path: Path) -> None:
    text = "giocatore,istante,bastone,velocita_bastone_kmh,carry_m,note_varie\nP1,2026-03-17T11:00:00,driver,152.7,202.6,x\nP1,2026-03-17T11:01:00,driver,153.7,205.6,y\n"
    assert why(drafted(tmp_path, text), "carry_m") == ""


def test_a_stamp_of_an_answer_says_its_day(tmp_path: Path) -> None:
    text = "Timestamp,Player,Fatigue (0 = none; 10 = worst)\n3/16/2026 6:43:05 AM,P1,2\n3/17/2026 7:01:00 PM,P1,4\n"
    assert why(drafted(tmp_path, text), "date") == ""
    assert 'format = "%m/%d/%Y %I:%M:%S %p"' in drafted(tmp_path, text).text
    iso = drafted(
        tmp_path,
        text.replace("3/16/2026 6:43:05 AM", "2026-03-16T06:43:05+01:00").replace(
            "3/17/2026 7:01:00 PM", "2026-03-17T19:01:00+01:00"
        ),
    )
    assert why(iso, "date") == ""
    assert "cut = " in iso.text


def test_times_and_texts_of_a_workbook_are_read_as_its_program_keeps_them(tmp_path: Path) -> None:
    rows: list[list[object]] = [["Player", "Date", "Time", "Club", "Club speed (mph)", "Offline (m)"]]
    rows += [["P1", "2026-03-17", 0.375 + n / 1440, "driver", 94.5 + n, f"1{n},5 {'RL'[n % 2]}"] for n in range(4)]
    draft = drafted(tmp_path, workbook(rows), "xlsx")
    assert (why(draft, "struck_at"), why(draft, "club_speed_mps"), why(draft, "offline_m")) == ("", "", "")
    assert 'decimal = ","\nthousands = ""' in draft.text.split("[columns.offline_m]")[1]


def test_words_that_say_nothing_are_no_hindrance_in_a_cell(tmp_path: Path) -> None:
    text = "Jugador;Fecha;Prueba;Lado;Ángulo (°)\nG1;20/01/2026;Rotación del tronco;Izq.;42\nG2;21/01/2026;Rotación interna de la cadera;Der.;44\n"
    draft = drafted(tmp_path, text)
    assert (why(draft, "test"), why(draft, "side")) == ("", "")


@pytest.mark.parametrize(("head", "asked"), [("Penalties", True), ("Penalties from the tee", False)])
def test_whether_penalties_are_those_of_tee_shots_is_asked(head: str, asked: bool, tmp_path: Path) -> None:
    draft = drafted(
        tmp_path,
        f"Player,Date played,Total strokes,Gross par,{head}\nP1,2026-03-01,80,72,3\nP2,2026-03-01,81,72,0\n",
        kind="rounds",
    )
    assert ("whole round" in (why(draft, "penalties") or "")) is asked


@pytest.mark.parametrize(
    "head",
    ["Offline (m, + à droite)", "Offline (m, right is +)", "Offline right(+) / left(-) (m)", "Offline (m, + to the right)"],
)
def test_a_sign_and_a_side_may_have_words_between_them(head: str, tmp_path: Path) -> None:
    text = f"Player;Struck at;Club;Carry (m);{head}\nP1;2026-03-17T11:00:00;driver;202.6;-8.1\nP1;2026-03-17T11:01:00;driver;205.6;3.0\n"
    assert "which side" not in str(why(drafted(tmp_path, text), "offline_m") or "")


def test_a_letter_before_a_region_is_its_side(tmp_path: Path) -> None:
    text = "Player,Date,Stiffness (0 = none; 10 = worst),\n,,L knee,R knee\nP1,2026-01-19,3,2\nP2,2026-01-20,0,9\n"
    draft = drafted(tmp_path, text)
    column = next(column for column in draft.columns if column.target == "stiff_lead_knee")
    assert column.left.endswith("L knee")
    assert column.sure


def test_a_blank_that_does_not_break_may_separate_thousands(tmp_path: Path) -> None:
    text = "Player;Struck at;Club;Carry (m);Spin (rpm)\nP1;2026-03-17T11:00:00;driver;202,6;2\u00a0515\nP1;2026-03-17T11:01:00;driver;205,6;2\u202f610\n"
    assert why(drafted(tmp_path, text), "spin_rpm") == ""
