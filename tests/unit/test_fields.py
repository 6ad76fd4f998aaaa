from __future__ import annotations

import re

import pytest

from schemas.clubs import CLUB_GROUP, CLUBS
from schemas.fields import FIELDS, ID_PATTERN, Field
from schemas.files import KINDS
from schemas.regions import REGIONS
from schemas.units import UNITS

FIELD_NAMES = sorted(FIELDS)
UNIT_OF_ENDING = {
    "_mps": "m/s", "_deg": "deg", "_rpm": "rpm", "_m": "m", "_mm": "mm", "_cm": "cm", "_c": "degC", "_hpa": "hPa",
    "_pct": "%", "_min": "min", "_h": "h",
}  # fmt: skip


def unit_by_name(name: str) -> str | None:
    endings = sorted((ending for ending in UNIT_OF_ENDING if name.endswith(ending)), key=len)
    return UNIT_OF_ENDING[endings[-1]] if endings else None


@pytest.mark.parametrize("name", FIELD_NAMES)
def test_a_field_is_well_formed(name: str) -> None:
    field: Field = FIELDS[name]
    assert field.description.endswith((".", ")"))
    assert field.source
    assert (field.low is None) == (field.high is None)
    if field.low is not None and field.high is not None:
        assert field.low < field.high
    if field.kind == "number":
        assert field.low is not None, "a number has limits, so that NaN and infinity are refused"


@pytest.mark.parametrize("name", [name for name in FIELD_NAMES if FIELDS[name].kind == "number"])
def test_a_unit_stands_in_the_name_and_is_known(name: str) -> None:
    unit = FIELDS[name].unit
    assert (unit_by_name(name) or "") == (unit if name != "minutes" else "")
    assert not unit or unit in UNITS


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_kind_is_made_of_known_fields_and_its_key_is_required(kind: str) -> None:
    file_kind = KINDS[kind]
    assert set(file_kind.key) | set(file_kind.replaces) <= set(file_kind.names)
    assert all(FIELDS[column.field.name] is column.field for column in file_kind.columns)
    assert len(set(file_kind.names)) == len(file_kind.names)
    may_be_empty = {"side", "round_no"} | ({"player_id", "group_name"} if kind == "plans" else set())
    assert set(file_kind.key) - set(file_kind.required) <= may_be_empty
    for reference in file_kind.references:
        assert reference.column in file_kind.names
        assert list(KINDS).index(reference.kind) < list(KINDS).index(kind), "what is named comes before what names it"


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_rules_across_columns_read_columns_of_their_kind_and_their_codes_are_distinct(kind: str) -> None:
    file_kind = KINDS[kind]
    codes = [rule.code for rule in file_kind.rules]
    assert len(codes) == len(set(codes))
    for rule in file_kind.rules:
        assert set(rule.columns) <= set(file_kind.names)
        assert set(rule.holds.meta.root_names()) <= set(file_kind.names)
        assert rule.allowed
        assert rule.hint
        assert rule.source


def test_the_kinds_are_those_agreed() -> None:
    assert sorted(KINDS) == [
        "absences", "changes", "checkins", "decisions", "mobility", "plans", "players", "problems", "rounds", "sessions", "shots",
        "trials",
    ]  # fmt: skip


@pytest.mark.parametrize("text", ["p1", "P-1.a_b", "0", "a" * 64])
def test_an_id_that_is_fine(text: str) -> None:
    assert re.fullmatch(ID_PATTERN, text)


@pytest.mark.parametrize(
    "text", ["", ".", "../../x", "<b>", "a/b", "a b", "-a", "_a", "a" * 65, "a\x00", "ä", "C:\\x", ".hidden"]
)
def test_an_id_that_could_be_a_path_or_markup_is_refused(text: str) -> None:
    assert not re.fullmatch(ID_PATTERN, text)


def test_every_club_has_a_group() -> None:
    assert len(CLUBS) == len(set(CLUBS))
    assert set(CLUB_GROUP.values()) == {"driver", "fairway", "hybrid", "iron", "wedge", "putter", "training"}


def test_every_region_has_a_question_in_the_check_in() -> None:
    asked = {name.removeprefix("stiff_") for name in KINDS["checkins"].names if name.startswith("stiff_")}
    assert asked == set(REGIONS)
