"""What somebody says of the columns of a file holds, and is not doubted; of everything else the draft stays as sure as it was."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from pathlib import Path

import pytest

from pipelines.stages.intake import draft as package
from pipelines.stages.intake.draft import TOGETHER, DraftedColumn, DraftedMapping, Hints, draft_mapping, possible_roles
from pipelines.stages.intake.draft.evidence import BY_VALUES
from pipelines.stages.intake.draft.headings import NEAR
from pipelines.stages.intake.mapping import parsed_mapping
from reports.findings.drafts import column_name, why_texts
from reports.words import LANGUAGES, words
from schemas.files import KINDS

SHOTS = (
    "Spieler;Zeit;Schläger;Tempo;Ball;Seite;Temp\n"
    "P1;03.02.2026 17:00;driver;98,5;230;1,5;3\nP1;04.02.2026 17:01;driver;99,5;231;-2,5;4\n"
)
ANSWERS = "Spieler;Tag;Müdigkeit;Knie links;Knie rechts\nP1;03.02.2026;3;2;1\nP1;04.02.2026;4;1;1\n"


def drafted(folder: Path, text: str, hints: Hints | None = None) -> DraftedMapping:
    path = folder / "export.csv"
    path.write_text(text, encoding="utf-8")
    return draft_mapping(path, hints)


def column(draft: DraftedMapping, target: str) -> DraftedColumn:
    return next(column for column in draft.columns if column.target == target)


def test_a_draft_says_what_it_takes_each_column_for_and_the_same_choices_give_the_same_draft(tmp_path: Path) -> None:
    first = drafted(tmp_path, SHOTS, Hints("shots"))
    assert list(first.roles.values()) == ["player_id", "time", "club", "", "", "offline_m", ""]
    again = drafted(tmp_path, SHOTS, Hints("shots", roles=first.roles))
    assert again.text == first.text
    assert again.columns == first.columns


def test_what_somebody_says_of_a_column_is_not_doubted(tmp_path: Path) -> None:
    first = drafted(tmp_path, SHOTS, Hints("shots"))
    roles = {**first.roles, "Tempo": "club_speed_mps", "Ball": "carry_m", "Seite": "offline_m", "Temp": ""}
    hints = Hints("shots", roles=roles, units={"Tempo": "mph", "Ball": "yd", "Seite": "yd"}, reversed_sides={"Seite": True})
    told = drafted(tmp_path, SHOTS, hints)
    assert [(name, column(told, name).sure, column(told, name).unit) for name in ("club_speed_mps", "carry_m", "offline_m")] == [
        ("club_speed_mps", True, "mph"), ("carry_m", True, "yd"), ("offline_m", True, "yd"),
    ]  # fmt: skip
    assert column(told, "offline_m").reverse
    assert "Temp" in told.left_out
    odd = drafted(tmp_path, SHOTS, replace(hints, units={**hints.units, "Tempo": "m/s"}))
    assert not column(odd, "club_speed_mps").sure  # 98 m/s is beyond every club: it is said, and said again


def test_order_of_days_decimal_sign_sessions_and_values_are_taken_as_told(tmp_path: Path) -> None:
    text = SHOTS.replace("Spieler;", "X;").replace("03.02.2026", "03/02/2026").replace("04.02.2026", "04/02/2026")
    first = drafted(tmp_path, text, Hints("shots"))
    roles = {**first.roles, "X": ""}
    hints = Hints("shots", roles=roles, order="mdy", decimal=".", sessions="test", values={"player_id": "P9"})
    told = drafted(tmp_path, text, hints)
    assert column(told, "struck_at").formats == ("%m/%d/%Y %H:%M",)
    assert (column(told, "player_id").template, told.signs[0], told.order) == ("P9", ".", "mdy")
    mapping = parsed_mapping("x", told.text)
    assert dict(mapping.session) == {"kind": "test"}
    assert parsed_mapping("x", drafted(tmp_path, text, replace(hints, sessions="")).text).session == ()


def test_columns_that_are_read_together_stay_so_or_are_left_out(tmp_path: Path) -> None:
    first = drafted(tmp_path, ANSWERS, Hints("checkins"))
    assert {first.roles["Knie links"], first.roles["Knie rechts"]} == {TOGETHER}
    again = drafted(tmp_path, ANSWERS, Hints("checkins", roles=first.roles, scales={"Müdigkeit": (1.0, 5.0)}))
    assert column(again, "stiff_lead_knee").left == "Knie links"
    assert (column(again, "fatigue").scale, column(again, "fatigue").sure) == ((1.0, 5.0), True)
    apart = drafted(tmp_path, ANSWERS, Hints("checkins", roles={**first.roles, "Knie links": "", "Knie rechts": ""}))
    assert {"Knie links", "Knie rechts"} <= set(apart.left_out)


def test_words_mean_what_somebody_says_and_what_nobody_has_said_is_told(tmp_path: Path) -> None:
    text = (
        SHOTS.replace("driver;98", "Big Bertie;98")
        .replace("driver;99", "Driver;99")
        .replace("1,5;3", "1,5 X;3")
        .replace("-2,5", "2,5 L")
    )
    first = drafted(tmp_path, text, Hints("shots"))
    assert (column(first, "club").strange, column(first, "offline_m").strange) == (("Big Bertie",), ("X",))
    words_told = {"Schläger": {"big bertie": "3-wood", "old one": "5-wood"}, "Seite": {"x": "plus"}}
    told = drafted(tmp_path, text, Hints("shots", roles=first.roles, words=words_told))
    assert column(told, "club").words == {"Big Bertie": "3-wood", "old one": "5-wood"}
    assert (column(told, "club").sure, column(told, "club").strange, column(told, "offline_m").plus) == (True, (), ("X",))
    less = drafted(tmp_path, text, Hints("shots", roles=first.roles, words={"Schläger": {"driver": ""}}))
    assert column(less, "club").strange == ("Big Bertie", "Driver")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_word_of_ours_that_may_be_chosen_has_a_name(language: str) -> None:
    for kind in KINDS.values():
        for each in kind.columns:
            asked = [word for word in each.field.allowed if each.field.name != "region" and not word.isdigit()]
            assert [word for word in asked if f"draft.word.{word.replace(' ', '_')}" not in words(language)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_column_that_may_be_chosen_has_a_name_of_its_own(language: str) -> None:
    for kind in KINDS:
        names = [column_name(role, words(language)) for role in possible_roles(kind)]
        assert [role for role in possible_roles(kind) if column_name(role, words(language)) == role and "_" in role] == []
        assert f"draft.kind.{kind}" in words(language)
        assert len(set(names)) == len(names), (kind, sorted(names))


def _reasons() -> list[str]:
    """Every reason that the drafts write, its values as ``x``."""
    found = []
    for path in sorted(Path(package.__file__).parent.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            given = node.args[-1:] if name in {"doubted", "noted", "Scale"} else []
            given += [keyword.value for keyword in node.keywords if keyword.arg in {"why", "doubt"}]
            found += [text for each in given for text in _texts(each)]
    return [text for text in dict.fromkeys(found) if re.search(r"[a-z]{3} ", text) and not text.startswith("x, ")]


def _texts(node: ast.expr) -> list[str]:
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else []
    if isinstance(node, ast.JoinedStr):
        return ["".join(part.value if isinstance(part, ast.Constant) else "x" for part in node.values)]
    return [text for child in (node.body, node.orelse) for text in _texts(child)] if isinstance(node, ast.IfExp) else []


def test_every_reason_of_a_draft_is_told_in_every_language() -> None:
    reasons = _reasons()
    assert len(reasons) > 35
    with_others = "the values hardly make sense in m/s; mph or km/h would do"
    by_name = [
        "a, b may belong to it too",
        "the values make sense in rps only, which nobody writes down",
        BY_VALUES,
        *NEAR.values(),
    ]
    for reason in [*reasons, *by_name, with_others, "the unit is not written; m or yd would do"]:
        shown = [str(text) for text in why_texts(reason, words("de"))]
        assert [text for text in shown if "lang=" in text] == [], reason
    assert list(why_texts("some clubs were not understood; the unit is not written; m or yd would do", words("de"))) == [
        "manche Schläger wurden nicht verstanden", "die Einheit steht nicht da; m oder yd ginge",
    ]  # fmt: skip
    assert list(why_texts("Mood\nwords may belong to it too", words("de"))) == ["auch Mood\nwords könnte dazugehören"]
    assert list(why_texts("something new", words("de"))) == ['<span lang="en">something new</span>']
