"""Each rule of each contract has a row that breaks only that rule, and no rule is without one."""

from __future__ import annotations

from functools import cache

import polars as pl
import pytest

from pipelines.stages.intake.broken import broken_rules
from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.check import Known, checked
from schemas.files import KINDS
from schemas.files.contract import contract
from schemas.files.rules import keeps_contract, rules
from tests.broad import some_of

GOOD = {
    "players": {"player_id": "P1", "alias": "Blue Heron", "joined_on": "2025-01-01", "left_on": "2026-01-01"},
    "sessions": {"session_id": "S1", "player_id": "P1", "started_at": "2026-03-14T10:00:00", "kind": "range"},
    "trials": {
        "trial_id": "T1", "player_id": "P1", "question": "wider stance", "normal_arm": "normal", "arms": "normal | wide",
        "began_on": "2026-03-01",
    },
    "shots": {
        "session_id": "S1", "player_id": "P1", "shot_no": "1", "struck_at": "2026-03-14T10:00:00", "club": "driver",
        "club_speed_mps": "45", "trial_id": "T1",
    },
    "checkins": {"player_id": "P1", "date": "2026-03-14", "fatigue": "3"},
    "problems": {"player_id": "P1", "week_ending": "2026-03-15", "region": "lower_back", "participation": "1"},
    "absences": {"player_id": "P1", "began_on": "2026-03-14", "kind": "illness", "ended_on": "2026-03-16"},
    "plans": {"player_id": "P1", "week_starting": "2026-03-16"},
    "mobility": {"player_id": "P1", "date": "2026-03-14", "test": "trunk_turn", "value_deg": "45"},
    "rounds": {"player_id": "P1", "played_on": "2026-03-14", "tee_shots": "14"},
    "changes": {"player_id": "P1", "changed_on": "2026-03-14", "kind": "technique"},
    "decisions": {"flag_id": "F1", "decided_on": "2026-03-14", "role": "coach", "decision": "watch", "until": "2026-03-20"},
}  # fmt: skip

BROKEN: dict[tuple[str, str, str], dict[str, str | None]] = {
    ("players", "days_out_of_order", "left_on"): {"left_on": "2024-01-01"},
    ("sessions", "rest_with_work", "swings_full"): {"kind": "rest", "swings_full": "20"},
    ("trials", "normal_arm_missing", "normal_arm"): {"normal_arm": "usual"},
    ("trials", "one_arm_only", "arms"): {"arms": "normal | normal"},
    ("trials", "days_out_of_order", "ended_on"): {"ended_on": "2026-02-28", "end_rule": "sheet"},
    ("trials", "trial_end_half_told", "ended_on"): {"ended_on": "2026-03-08"},
    ("shots", "nothing_measured", "club_speed_mps"): {"club_speed_mps": None},
    ("shots", "speed_ratio", "ball_speed_mps"): {"ball_speed_mps": "80"},
    ("shots", "out_of_range", "club_speed_mps"): {"club_speed_mps": "90"},
    ("shots", "out_of_range", "ball_speed_mps"): {"ball_speed_mps": "2"},
    ("shots", "carry_and_offline", "offline_m"): {"carry_m": "100", "offline_m": "-120"},
    ("shots", "arm_without_trial", "arm"): {"arm": "wide", "trial_id": None},
    ("checkins", "nothing_answered", "fatigue"): {"fatigue": None, "note": "nothing"},
    ("problems", "first_question_empty", "participation"): {"participation": None},
    ("absences", "days_out_of_order", "ended_on"): {"ended_on": "2026-03-01"},
    ("plans", "player_or_group", "player_id"): {"group_name": "U16"},
    ("plans", "group_word", "group_name"): {"player_id": None, "group_name": "U16; U18"},
    ("rounds", "more_fairways_than_tee_shots", "fairways"): {"fairways": "15"},
    ("rounds", "too_few_strokes", "strokes"): {"strokes": "4", "holes": "18"},
    ("rounds", "out_of_range", "fairways"): {"fairways": "99", "tee_shots": None},
    ("decisions", "days_out_of_order", "until"): {"until": "2026-03-01"},
    ("trials", "empty", "arms"): {"arms": None},
    ("trials", "empty", "normal_arm"): {"normal_arm": None},
    ("trials", "too_long", "normal_arm"): {"normal_arm": "n" * 41, "arms": f"{'n' * 41} | wide"},
    ("trials", "too_long", "arms"): {"arms": "normal | " + "w" * 400},
}  # fmt: skip

ALL_RULES = [(kind, rule.code, rule.column) for kind in KINDS for rule in rules(kind)]


def _change(kind: str, code: str, column: str) -> dict[str, str | None]:
    """What to change in the good row: by hand where columns hang together, else by the field's own limits."""
    if (kind, code, column) in BROKEN:
        return BROKEN[kind, code, column]
    field = KINDS[kind].column(column).field
    if code == "out_of_range":
        assert field.high is not None
        return {column: str(int(field.high) + 1)}
    return {
        column: {
            "empty": None,
            "unknown_word": "zebra",
            "unsafe_id": "../../x",
            "group_list": "U16 (1.4.2026)",
            "group_word": "U16; U18",
            "too_long": "x" * (field.longest + 1),
        }[code]
    }


Row = dict[str, str | None]
Told = list[tuple[str, str]]


def _told(kind: str, rows: list[Row]) -> list[Told]:
    """Problems of each row, all rows checked together."""
    names = KINDS[kind].names
    cells = pl.DataFrame({name: [row.get(name) for row in rows] for name in names}, schema=dict.fromkeys(names, pl.String))
    apart = pl.Series(range(len(rows)), dtype=pl.Int32)
    found = checked(KINDS[kind], cells, apart, "Europe/Berlin", Known(None, None)).problems
    return [
        list(zip(part["rule"], part["column"], strict=True))
        for part in (found.filter(pl.col("row") == at) for at in range(len(rows)))
    ]


def _problems(kind: str, row: Row) -> Told:
    return _told(kind, [row])[0]


@cache
def _breaking_rows(kind: str) -> dict[tuple[str, str], Told]:
    wanted = [(rule.code, rule.column) for rule in rules(kind)]
    told = _told(kind, [GOOD[kind] | _change(kind, *rule) for rule in wanted])
    return dict(zip(wanted, told, strict=True))


@pytest.mark.parametrize("kind", list(KINDS))
def test_the_good_row_is_good(kind: str) -> None:
    assert _problems(kind, GOOD[kind]) == []


@pytest.mark.parametrize(("kind", "code", "column"), ALL_RULES)
def test_a_row_breaks_exactly_one_rule(kind: str, code: str, column: str) -> None:
    assert _breaking_rows(kind)[code, column] == [(code, column)]


@pytest.mark.parametrize("kind", list(KINDS))
def test_no_check_of_the_contract_is_missing_from_the_rule_table(kind: str) -> None:
    schema = contract(kind)
    codes = {(check.error, name) for name, column in schema.columns.items() for check in column.checks}
    codes |= {("empty", name) for name, column in schema.columns.items() if not column.nullable}
    by_row = {check.error for check in schema.checks}
    told = {(rule.code, rule.column) for rule in rules(kind)}
    assert {code for code, _ in told} == {code for code, _ in codes} | by_row
    assert codes <= told


def test_limits_are_open_to_both_sides_of_what_is_allowed() -> None:
    field = KINDS["shots"].column("launch_deg").field
    assert _problems("shots", GOOD["shots"] | {"launch_deg": str(field.low)}) == []
    assert _problems("shots", GOOD["shots"] | {"launch_deg": str(field.high)}) == []
    assert _problems("shots", GOOD["shots"] | {"launch_deg": "-20.001"}) == [("out_of_range", "launch_deg")]


def test_all_reasons_of_a_row_are_told() -> None:
    row = GOOD["shots"] | {"club": "zebra", "launch_deg": "abc", "spin_rpm": "99999", "player_id": None}
    assert sorted(_problems("shots", row)) == [
        ("empty", "player_id"), ("not_a_number", "launch_deg"), ("out_of_range", "spin_rpm"), ("unknown_word", "club"),
    ]  # fmt: skip


def test_a_rule_about_columns_that_a_file_does_not_have_at_all_is_told_of_each_row() -> None:
    row = {name: value for name, value in GOOD["shots"].items() if name != "club_speed_mps"}
    found = checked(KINDS["shots"], pl.DataFrame([row, {**row, "shot_no": "2"}]), pl.Series([0, 0]), "UTC", Known(None, None))
    assert found.problems.select("rule", "value").rows() == [("nothing_measured", "")] * 2


@pytest.mark.parametrize("word", ["nan", "NaN", "inf", "-inf", "infinity", "1e999", "4x", "1,5", "0x10", "١"])
def test_what_is_no_finite_number_is_a_problem(word: str) -> None:
    assert _problems("shots", GOOD["shots"] | {"launch_deg": word}) == [("not_a_number", "launch_deg")]


def test_a_cell_that_cannot_be_read_is_not_told_as_empty_too() -> None:
    assert _problems("shots", GOOD["shots"] | {"club_speed_mps": "fast"}) == [("not_a_number", "club_speed_mps")]
    assert _problems("shots", GOOD["shots"] | {"shot_no": "1.5"}) == [("not_a_whole_number", "shot_no")]


def _typed(kind: str, row: Row) -> pl.DataFrame:
    names = KINDS[kind].names
    cells = pl.DataFrame({name: [row.get(name)] for name in names}, schema=dict.fromkeys(names, pl.String))
    return typed(KINDS[kind], cells, "Europe/Berlin")[0]


@pytest.mark.parametrize(("kind", "code", "column"), some_of(ALL_RULES, every=4))
def test_a_frame_is_sound_at_a_look_where_the_contract_finds_nothing(kind: str, code: str, column: str) -> None:
    sound, broken = (_typed(kind, GOOD[kind] | change) for change in ({}, _change(kind, code, column)))
    assert keeps_contract(KINDS[kind], sound)
    assert broken_rules(KINDS[kind], sound).is_empty()
    assert not keeps_contract(KINDS[kind], broken)
    assert not keeps_contract(KINDS[kind], pl.concat([sound, broken]))
    assert code in broken_rules(KINDS[kind], broken)["rule"]
    assert not keeps_contract(KINDS[kind], sound.with_columns(pl.lit(None).alias(column)))  # of another type
