"""Headers and remarks of drafts read word for word: compounds, order, sides, scales and days, each with its near miss."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from pipelines.stages.intake.draft import draft_mappings, gloss
from pipelines.stages.intake.draft.body_parts import body_part
from pipelines.stages.intake.draft.headings import heading, says_more, strange_brackets
from pipelines.stages.intake.draft.layout import Layout
from pipelines.stages.intake.draft.lexicon import meaning_of, split_unit, value_words, words
from pipelines.stages.intake.draft.remarks import day_order, is_remark, remarked
from pipelines.stages.intake.draft.targets import target_of
from pipelines.stages.intake.draft.values import club_of, day_form, instant_form, side_words
from schemas.files import KINDS

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("header", "concept"),
    [
        ("Velocidad inicial de la bola", "ball_speed_mps"),
        ("Geschwindigkeit des Schlägerkopfs", "club_speed_mps"),
        ("Bollens starthastighet", "ball_speed_mps"),
        ("Ángulo horizontal de lanzamiento", "direction_deg"),
        ("ボール打ち出し方向", "direction_deg"),
        ("クラブヘッド速度", "club_speed_mps"),
        ("Hauteur maximale du vol", "apex_m"),
        ("Landungswinkel des Balles", "descent_deg"),
        ("Numero di swing completi", "swings_full"),
        ("Datum der Runde", "played_on"),
        ("Förnamn", "first_name"),
        ("Data di nascita", "birth_date"),
    ],
)
def test_a_header_is_read_word_for_word(header: str, concept: str) -> None:
    assert meaning_of(header).concepts == (concept,)
    assert meaning_of(header).left == ()


@pytest.mark.parametrize(
    "header",
    [
        "Wind gust",
        "Sleep debt",
        "Gyro spin",
        "Strokes gained",
        "Review date",
        "Lichaamstemperatuur",
        "Ballgewicht",
        "Longueur du club",
        "Spin loft",
        "Ball flight time",
    ],
)
def test_a_header_that_says_more_is_not_taken_for_sure(header: str) -> None:
    meant = meaning_of(header)
    assert len(meant.concepts) != 1 or says_more(meant.left)


def test_every_word_of_a_pattern_is_in_the_dictionary_and_every_pattern_means_something_known() -> None:
    known = set().union(*(piece.words for piece in gloss._known().values()))
    concepts = set(words()["header"])
    parts = {"first_name", "last_name", "birth_date", "freshness", "calmness", "event"}
    for pattern in gloss.patterns():
        assert {*pattern.needed, *pattern.beside} <= known, pattern
        assert pattern.concept in concepts | parts, pattern


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("offline m right positive", "offline m (right +)"),
        ("dir inicial grados derecha pos", "dir inicial grados (derecha +)"),
        ("stress 0 intet 10 værst", "stress (0 = intet, 10 = værst)"),
        ("fatigue 0 to 10", "fatigue (0 to 10)"),
        ("rigidez 0 a 10 pior pescoço", "rigidez pescoço (0 a 10 pior)"),
        ("question 1", "question 1"),
        ("holes 18", "holes 18"),
        ("full swings positive", "full swings positive"),
    ],
)
def test_remarks_in_plain_names_are_set_apart(said: str, told: str) -> None:
    assert remarked(said) == told or set(re.findall(r"\w+", remarked(said))) == set(re.findall(r"\w+", told))


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("Date (d/m/y)", "dmy"), ("Datum (TT.MM.JJJJ)", "dmy"), ("Fecha dd/mm/aaaa", "dmy"), ("Date (MM/DD/YYYY)", "mdy"),
        ("Dato (ÅÅÅÅ-MM-DD)", "ymd"), ("Club speed (m/s)", ""), ("Date", ""), ("D/M", "dmy"),
    ],
)  # fmt: skip
def test_the_order_of_a_day_is_read_where_it_is_written(text: str, order: str) -> None:
    assert day_order(text) == order


def test_a_known_order_decides_between_day_and_month() -> None:
    cells = ["03/04/2026", "05/06/2026"]
    assert day_form(cells)[1] is False
    assert day_form(cells, "dmy") == ("%d/%m/%Y", True)
    assert day_form(cells, "mdy") == ("%m/%d/%Y", True)
    assert instant_form(["03/04/2026 09:10"], "mdy") == ("%m/%d/%Y %H:%M", True)


def test_what_stands_between_day_and_clock_and_behind_it_is_kept() -> None:
    assert instant_form(["14.04.2026, 09:10 Uhr", "16.04.2026, 08:00 Uhr"]) == ("%d.%m.%Y, %H:%M Uhr", True)
    assert instant_form(["24/02/2026 14h00:15"])[0] == "%d/%m/%Y %Hh%M:%S"


@pytest.mark.parametrize("part", ["d/m/y", "R/L", "+ = up", "none", "Y/N", "station"])
def test_a_remark_that_changes_nothing_is_none(part: str) -> None:
    assert is_remark(part)


@pytest.mark.parametrize("part", ["+ = down", "corrected", "estimated by eye", "mean of 3"])
def test_a_remark_that_may_change_the_reading_is_one(part: str) -> None:
    assert not is_remark(part)
    assert strange_brackets(f"Attack angle ({part})") == [part]


def test_units_of_several_words_and_sides_with_a_point_are_read() -> None:
    assert split_unit("boll spinn varv per min") == ("boll spinn", "rpm")
    assert split_unit("offline m (right +)") == ("offline (right +)", "m")
    assert side_words(["9,8 esq.", "3,1 dir."]) == (["dir."], ["esq."], [])


def test_a_letter_behind_a_region_is_its_side() -> None:
    for text, side in (("Raideur épaule (0 = aucune) D", "right"), ("Raideur épaule G", "left"), ("Raideur épaule", "")):
        part = body_part(text)
        assert part is not None
        assert (part.region, part.side) == ("shoulder", side)


def test_clubs_are_read_in_any_order_of_their_words() -> None:
    assert [club_of(word) for word in ("wedge de pitch", "hierro 7", "7 de hierro", "bois 3")] == [
        "pitching-wedge", "7-iron", "7-iron", "3-wood",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("header", "name", "unit"),
    [
        ("ballSpeedMph", "ball_speed_mps", "mph"),
        ("tempC", "air_temp_c", "degC"),
        ("air_temp_f", "air_temp_c", "degF"),
        ("sleep h", "sleep_h", "h"),
        ("Luftdruck hPa", "air_pressure_hpa", "hPa"),
        ("rotation tours par minute", "spin_rpm", "rpm"),
    ],
)
def test_a_unit_at_the_end_of_a_name_is_read_where_it_fits(header: str, name: str, unit: str) -> None:
    found = heading(_layout(header), header)
    assert (found.meaning.concepts, found.unit) == ((name,), unit)


@pytest.mark.parametrize("header", ["Plan C", "Course s", "Player f"])
def test_a_last_letter_is_no_unit_of_what_has_none(header: str) -> None:
    assert heading(_layout(header), header).unit == ""


def _layout(header: str) -> Layout:
    return Layout(",", "", (), (header,), (), (("1",),), {})


def test_words_of_another_gender_and_compounds_of_one_meaning_are_understood() -> None:
    assert value_words("absence_kind", ["lesionada", "enferma"]) == ({"lesionada": "injury", "enferma": "illness"}, True)
    assert value_words("session_kind", ["Platzrunde", "Fitness"])[0] == {"Platzrunde": "course", "Fitness": "gym"}
    assert value_words("session_kind", ["Putttraining", "Fitness"])[1] is False


def test_a_time_of_day_is_no_length_of_sleep_and_freshness_no_fatigue(tmp_path: Path) -> None:
    rows = "P1,2026-03-14,22:30,3\nP2,2026-03-14,23:10,4\n"
    path = tmp_path / "form.csv"
    path.write_text(f"Player,Date,Sleep,Freshness (0-10; 10 = rested)\n{rows}")
    columns = {column.target: column for column in draft_mappings(path)[0].columns}
    assert "times of day" in columns["sleep_h"].why
    assert "opposite" in columns["fatigue"].why
    assert not columns["sleep_h"].sure
    assert not columns["fatigue"].sure


def test_every_column_that_a_file_may_hold_has_words_in_every_language() -> None:
    concepts = set(words()["header"]) | {pattern.concept for pattern in gloss.patterns()}
    by_command = {"sheet", "flag_kind", "end_rule"}
    for kind in KINDS.values():
        found = {target_of(concept, kind.name) for concept in concepts}
        absent = {name for name in kind.names if not name.startswith("stiff_")} - found - by_command
        assert absent == set(), kind.name
    languages = {"en", "de", "fr", "es", "it", "nl", "pt", "sv", "da", "ja"}
    assert all(set(by_language) == languages for by_language in words()["header"].values())
    assert all(set(by_language) == languages for by_language in gloss._data()["word"].values())
