"""What the intake says of a problem stands in every language, and is found again by its English text."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl
import pytest
from markupsafe import Markup

from pipelines.stages import intake
from pipelines.stages.intake.batch import with_required
from pipelines.stages.intake.plausible import swapped_units
from pipelines.stages.intake.rules import INTAKE_RULES
from pipelines.stages.intake.table import Plain, Unread
from reports.findings.problems import TOLD, Part, Told, problem_text, says_a_sentence
from reports.single_page import single_page
from reports.words import LANGUAGES, NARROW_SPACE, words
from schemas.files import KINDS
from schemas.files.rules import rules
from tests.report.conftest import LAST_ON, academy

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

DE = words("de")
OTHERS = [language for language in LANGUAGES if language != "en"]
SAME = {"not_true_or_false"}
"""Codes whose allowed text is the same in every language but for a word between two words that are typed as they stand."""


def said() -> set[tuple[str, Part, str]]:
    """Code, part and English text of every problem that there is."""
    found = {(rule.code, rule.allowed, rule.hint) for rule in INTAKE_RULES.values()}
    found |= {(rule.code, rule.allowed, rule.hint) for kind in KINDS for rule in rules(kind)}
    texts: set[tuple[str, Part, str]] = {(code, "allowed", allowed) for code, allowed, _ in found}
    return texts | {(code, "hint", hint) for code, _, hint in found}


@pytest.mark.parametrize("language", OTHERS)
def test_every_problem_says_what_is_allowed_and_what_to_do_in_every_language(language: str) -> None:
    told = {(code, part, text): problem_text(part, code, text, words(language)) for code, part, text in said()}
    assert len(told) > 150
    assert {key for key, text in told.items() if text.language != language} == set()
    assert {code for (code, _, text), shown in told.items() if shown.text == text} <= {"unknown_word", *SAME}


def test_texts_are_those_of_the_intake_and_none_is_left_over() -> None:
    codes = {code for code, _, _ in said()}
    for part in TOLD:
        below = f"problem.{part}."
        assert {key.removeprefix(below) for key in words("en").texts if key.startswith(below)} == codes
    assert {code for code in codes if f"rule.{code}" not in DE} == set()


def _shape(node: ast.expr) -> str | None:
    """A text as it is written in the code, with something in place of each value."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "value" for part in node.values)
    return None


def _own_hints() -> Iterator[str]:
    """Every hint that a place in the intake gives instead of its code's, and every way out that a faulty mapping is given."""
    for path in sorted(Path(intake.__file__).parent.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                hints = [word.value for word in node.keywords if word.arg == "hint"]
                if isinstance(node.func, ast.Attribute) and node.func.attr == "fault":
                    hints += node.args[3:4]
                yield from (text for text in map(_shape, hints) if text and not text.startswith("value "))
            elif isinstance(node, ast.Assign) and [ast.unparse(target) for target in node.targets] == ["hint"]:
                yield from (text for text in [_shape(node.value)] if text)


@pytest.mark.parametrize("language", OTHERS)
def test_every_hint_of_its_own_is_known(language: str) -> None:
    hints = set(_own_hints())
    assert len(hints) > 18
    unknown = {text for text in hints if problem_text("hint", "bad_mapping", text, words(language)).language != language}
    assert unknown == set()


@pytest.mark.parametrize("sign", [";", "\t"])
def test_a_wrong_separator_is_told(sign: str) -> None:
    content = with_required(KINDS["players"], Plain((f"player_id{sign}alias",), b"", 0))
    assert isinstance(content, Unread)
    assert "getrennt" in problem_text("hint", content.rule, content.hint, DE).text


def test_values_are_written_as_the_language_does() -> None:
    assert problem_text("allowed", "out_of_range", "-20 to 75 deg", DE).text == f"−20 bis 75{NARROW_SPACE}°"
    assert problem_text("allowed", "out_of_range", "0 to 3", DE).text == "0 bis 3"
    assert problem_text("allowed", "speed_ratio", "ball speed at most 1.53 times club speed", DE).text.endswith(
        "das 1,53-Fache des Schlägertempos"
    )
    assert problem_text("allowed", "unknown_word", "right / left", DE).text == "right / left"
    waits = problem_text("found", "waits_for_others", "players P7, P8, P9 and 2 more; sessions S1", DE)
    assert waits.text == "Spieler P7, P8, P9 und 2 weitere; Einheiten S1"
    waits = problem_text("found", "waits_for_others", "players P7; sessions S1, S2 and 4 more", DE)
    assert waits.text == "Spieler P7; Einheiten S1, S2 und 4 weitere"


def test_what_a_mapping_has_put_behind_a_hint_is_told_too() -> None:
    stored = "Check the reading and its unit. In the file: column Club Speed (mph)."
    assert problem_text("hint", "out_of_range", stored, DE).text == (
        "Messwert und Maßeinheit prüfen. In der Datei: Spalte Club Speed (mph)."
    )
    stored = "Units: m/s, mph. Then drop the file again."
    assert problem_text("hint", "bad_mapping", stored, DE).text == "Maßeinheiten: m/s, mph. Dann die Datei noch einmal ablegen."


def test_of_a_text_of_another_version_what_is_said_today_is_told() -> None:
    told = problem_text("hint", "duplicate", "Remove the second row, or give it its own number; the first was taken.", DE)
    assert (told.language, told.text) == ("de", DE("problem.hint.duplicate"))


def test_a_text_that_is_not_known_stays_and_is_marked() -> None:
    told = problem_text("hint", "a_rule_of_later", "Ask <b>the device</b>.", DE)
    assert str(told.marked("de")) == '<span lang="en">Ask &lt;b&gt;the device&lt;/b&gt;.</span>'
    assert str(told.marked("en")) == "Ask &lt;b&gt;the device&lt;/b&gt;."
    assert str(Told("7.5 m", "").marked("de")) == "7.5 m", "without words there is no language to mark"


def test_what_stood_in_a_cell_is_never_translated() -> None:
    told = problem_text("found", "out_of_range", "3 of 4 rows", DE)
    assert (told.text, told.language) == ("3 of 4 rows", "")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (pl.col("ball_speed_mps") * 2.237, "Stehen die Tempi in mph?"),
        (pl.col("launch_deg") / 57.3, "Stehen die Winkel im Bogenmaß?"),
        (pl.col("spin_rpm") / 60, "Steht er in Umdrehungen je Sekunde?"),
    ],
)
def test_units_that_look_swapped_are_told(change: pl.Expr, told: str) -> None:
    row = {"ball_speed_mps": 65.0, "carry_m": 210.0, "launch_deg": 12.0, "spin_rpm": 2700.0}
    shots = pl.DataFrame([row] * 10).with_columns(change)
    found = swapped_units(KINDS["shots"], shots, pl.repeat(0, 10, dtype=pl.Int32, eager=True))
    assert says_a_sentence("units_look_swapped")
    assert problem_text("found", "units_look_swapped", found[0], DE).text.endswith(told)


def test_a_german_page_tells_problems_in_german(con: duckdb.DuckDBPyConnection) -> None:
    sentence = "carry is 1.44 times what ball speed, launch and spin can give: is carry in yards, or the total distance?"
    con.execute("update problem set value = ?, rule = 'values_look_wrong' where rule = 'missing_column'", [sentence])
    page = single_page(con, academy("de"), audience="data", path="index.html", as_of=LAST_ON)
    assert "das 1,44-Fache dessen, was Balltempo, Abflugwinkel und Spin hergeben: Steht sie in Yard, oder" in page
    assert f"8 bis 70{NARROW_SPACE}m/s" in page
    assert "Messwert und Maßeinheit prüfen." in page
    assert str(Markup("{}").format(DE("problem.hint.values_look_wrong"))) in page, "the hint of another version"
