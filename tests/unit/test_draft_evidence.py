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


def test_a_word_for_an_average_that_is_an_answer_leaves_no_row_out(tmp_path: Path) -> None:
    rows = "".join(
        f"P-{at};SW0{at % 3};2026-08-{at + 10} 10:00;75;{word}\n" for at, word in enumerate(("hög", "medel", "medel", "låg"))
    )
    draft = drafted(tmp_path, f"Pass-ID;Spelar-ID;Starttid;Varaktighet (min);Ansträngning (låg/medel/hög)\n{rows}Summa;;;300;\n")
    assert "medel" not in draft.text.partition("[ignore")[2].partition("\n\n")[0]
    assert "Summa" in draft.text
    assert len(draft.cells["Pass-ID"]) == 3
    shots = "Player;Date;Time;Club;Shot;Club speed (mph)\nP1;17/03/2026;11:00;Driver;1;94.5\nP1;17/03/2026;11:01;Driver;2;95.5\nP1;17/03/2026;11:01;Driver;Average;95.0\n"
    assert "Average" in drafted(tmp_path, shots).text


def test_the_name_of_a_group_over_each_of_its_columns_is_a_header_of_two_lines(tmp_path: Path) -> None:
    upper = ["Info"] * 5 + ["Club head", "Club head", "Ball", "Ball"]
    lower = ["Session", "Player no.", "Day", "Clock", "Club", "Speed [mph]", "Angle of attack [°]", "Speed [mph]", "Spin [rpm]"]
    body = [["T01", "118", "2026-03-19", f"14:0{at}:00", "DRIVER", 97.3 + at, 1.6, 141.5 + at, 2580] for at in range(4)]
    draft = drafted(tmp_path, workbook([upper, lower, *body]), "xlsx")
    assert (draft.kind, why(draft, "spin_rpm"), why(draft, "attack_deg")) == ("shots", "", "")
    assert {"club_speed_mps", "ball_speed_mps", "session_id"} <= {column.target for column in draft.columns}


@pytest.mark.parametrize(
    ("head", "is_reversed"),
    [("m, rechts positiv", False), ("m, links negativ", False), ("m, links positiv", True), ("m, positiv = links", True), ("m, right negative", True), ("m, Mitte positiv", None)],
)  # fmt: skip
def test_a_side_whose_sign_is_a_word_is_read(head: str, is_reversed: bool | None, tmp_path: Path) -> None:
    text = f"Sportler-ID;Zeitpunkt;Schläger;Ballgeschwindigkeit (m/s);Carry-Weite (m);Abweichung ({head})\nS017;19.05.2026 16:31:11;Driver;61,13;197,6;17,4\nS017;19.05.2026 16:32:11;Driver;62,13;198,6;-7,4\n"
    draft = drafted(tmp_path, text, kind="shots")
    column = next(column for column in draft.columns if column.target == "offline_m")
    assert (column.reverse if column.sure else None) == is_reversed


def test_what_has_a_speed_is_named_by_club_or_ball_alone(tmp_path: Path) -> None:
    text = "Player;Hit at;Club;Ball #;Clubhead mph;Ball mph\nP1;2026-03-17 11:00;Driver;1;94.5;140.2\nP1;2026-03-17 11:01;Driver;2;95.5;141.2\n"
    draft = drafted(tmp_path, text, kind="shots")
    assert [why(draft, name) for name in ("club_speed_mps", "ball_speed_mps")] == ["", ""]


@pytest.mark.parametrize(("head", "asked"), [("Sleep", True), ("Sleep (h)", False), ("Hours of sleep", False)])
def test_whole_numbers_below_sleep_alone_are_asked_about(head: str, asked: bool, tmp_path: Path) -> None:
    text = f"Player;Date;Fatigue 0-10 (10 worst);{head}\nP1;17/03/2026;3;6\nP2;17/03/2026;4;8\n"
    assert ("could be a rating" in (why(drafted(tmp_path, text, kind="checkins"), "sleep_h") or "")) is asked


def test_a_letter_before_a_region_without_sides_is_no_side(tmp_path: Path) -> None:
    text = "Spillernummer;Dato;Stivhed i nakken (0 = ingen, 10 = værst);Stivhed i lænden (0 = ingen, 10 = værst)\ndk5;2026-04-13;7;0\ndk8;2026-04-13;0;6\n"
    draft = drafted(tmp_path, text, kind="checkins")
    assert [why(draft, name) for name in ("stiff_neck", "stiff_lower_back")] == ["", ""]


def test_the_ends_of_a_scale_stand_behind_a_comma_too(tmp_path: Path) -> None:
    ends = "0 = none ... 10 = worst"
    text = (
        f"Player;Day;Stiff neck, {ends};Sore muscles, {ends};Stress, 0 = none to 10 = worst\n".replace(";", "\t")
        + "P1\t17/03/2026\t3\t6\t0\nP2\t18/03/2026\t4\t8\t10\n"
    )
    draft = drafted(tmp_path, text)
    assert draft.kind == "checkins"
    assert [why(draft, name) for name in ("stiff_neck", "soreness", "stress")] == ["", "", ""]


def test_a_unit_below_a_header_may_have_a_remark(tmp_path: Path) -> None:
    head = ["Player", "Date and time", "Club", "Ball speed", "Path"]
    body = [["P1", f"2026-03-17 11:0{at}:00", "Driver", 62.5 + at, 5.5 - at] for at in range(4)]
    draft = drafted(tmp_path, workbook([head, ["", "", "", "m/s", "deg, left +"], *body]), "xlsx", "shots")
    column = next(column for column in draft.columns if column.target == "path_deg")
    assert (column.sure, column.reverse) == (True, True)
