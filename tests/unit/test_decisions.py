from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl
import pytest

from pipelines.measures.flags.decisions import carried_flags, decision_states

RAISED, DECIDED, TODAY = date(2026, 3, 2), date(2026, 3, 4), date(2026, 3, 20)
FLAG = {
    "flag_id": "f1",
    "player_id": "P1",
    "kind": "body_stiff",
    "region": "lower_back",
    "raised_on": RAISED,
    "alerted_on": RAISED,
}
FLAG_SCHEMA = {name: pl.Date if name.endswith("_on") else pl.String for name in FLAG}


def flags(*changes: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame([FLAG | change for change in changes], schema=FLAG_SCHEMA)


def decisions(*changes: dict[str, Any]) -> pl.DataFrame:
    one = {"flag_id": "f1", "decided_on": DECIDED, "role": "physio", "decision": "ease", "until": date(2026, 3, 31), "note": "n"}
    schema = {
        "flag_id": pl.String,
        "decided_on": pl.Date,
        "role": pl.String,
        "decision": pl.String,
        "until": pl.Date,
        "note": pl.String,
    }
    return pl.DataFrame([one | change for change in changes], schema=schema)


def nights(*rows: tuple[date, float], region: str = "lower_back") -> pl.DataFrame:
    schema = {"player_id": pl.String, "kind": pl.String, "region": pl.String, "on_date": pl.Date, "strength": pl.Float64}
    return pl.DataFrame([("P1", "body_stiff", region, on, strength) for on, strength in rows], schema=schema, orient="row")


CALM = nights((RAISED, 4.5), (DECIDED, 5.0), (date(2026, 3, 10), 5.5))
SUBJECT = flags({}).drop("alerted_on")


def state(made: pl.DataFrame, now: pl.DataFrame, spoken: pl.DataFrame = CALM, as_of: date = TODAY) -> dict[str, Any]:
    return decision_states(made, SUBJECT, now, spoken, as_of).row(0, named=True)


def test_a_flag_under_decision() -> None:
    found = state(decisions({}), flags({}))
    assert (found["state"], found["decision"], found["until"], found["flag_id"]) == (
        "under_decision",
        "ease",
        date(2026, 3, 31),
        "f1",
    )


@pytest.mark.parametrize(
    ("until", "expected"), [(TODAY, "under_decision"), (date(2026, 3, 19), "date_passed"), (None, "under_decision")]
)
def test_the_last_day_still_holds(until: date | None, expected: str) -> None:
    assert state(decisions({"until": until}), flags({}))["state"] == expected


@pytest.mark.parametrize(("strength", "expected"), [(6.25, "under_decision"), (6.26, "grown")])
def test_a_flag_that_grows_by_a_quarter_comes_back(strength: float, expected: str) -> None:
    assert state(decisions({}), flags({}), nights((DECIDED, 5.0), (date(2026, 3, 12), strength)))["state"] == expected


def test_another_region_does_not_make_it_grow() -> None:
    other = pl.concat([CALM, nights((date(2026, 3, 12), 99.0), region="neck")])
    assert state(decisions({}), flags({}), other)["state"] == "under_decision"


def test_an_alert_since_the_decision_brings_it_back() -> None:
    assert state(decisions({}), flags({"alerted_on": date(2026, 3, 9)}))["state"] == "grown"


def test_the_last_decision_counts_and_all_are_counted() -> None:
    made = decisions({}, {"decided_on": date(2026, 3, 9), "role": "coach", "decision": "watch", "until": None})
    found = state(made, flags({}))
    assert (found["decision"], found["role"], found["n_decisions"]) == ("watch", "coach", 2)


def test_on_one_day_the_physio_decides_over_the_coach() -> None:
    made = decisions({"decision": "refer"}, {"role": "coach", "decision": "watch"})
    assert state(made, flags({}))["decision"] == "refer"


def test_a_decision_of_later_is_not_known_yet() -> None:
    assert decision_states(decisions({}), SUBJECT, flags({}), CALM, date(2026, 3, 3)).is_empty()


def test_a_flag_that_moved_keeps_its_decision() -> None:
    moved = flags({"flag_id": "f2", "raised_on": date(2026, 3, 5)}, {"flag_id": "f9", "region": "neck"})
    found = state(decisions({}), moved)
    assert (found["flag_id"], found["decided_flag_id"], found["decision"]) == ("f2", "f1", "ease")


def test_a_flag_that_is_gone_leaves_its_decision() -> None:
    found = state(decisions({}), flags({"flag_id": "f2", "raised_on": date(2026, 6, 1)}))
    assert (found["state"], found["flag_id"], found["n_decisions"]) == ("no_flag", "f1", 1)


def test_the_nearest_flag_is_taken_and_the_same_id_before_all() -> None:
    near, far = {"flag_id": "near", "raised_on": date(2026, 3, 3)}, {"flag_id": "far", "raised_on": date(2026, 3, 15)}
    assert carried_flags(SUBJECT, flags(far, near))["flag_id"].to_list() == ["near"]
    assert carried_flags(SUBJECT, flags(far, near, {}))["flag_id"].to_list() == ["f1"]


def test_each_column_of_a_decided_flag() -> None:
    made = decisions(
        {}, {"decided_on": date(2026, 3, 9), "decision": "watch", "note": "again"}, {"decided_on": date(2026, 3, 21)}
    )
    assert state(made, flags({})) == {
        "flag_id": "f1", "decided_flag_id": "f1", "player_id": "P1", "state": "under_decision", "role": "physio",
        "decision": "watch",
        "decided_on": date(2026, 3, 9), "until": date(2026, 3, 31), "note": "again", "n_decisions": 2,
    }  # fmt: skip
    assert state(decisions({"decided_on": TODAY}), flags({}))["decided_on"] == TODAY


@pytest.mark.parametrize(
    ("change", "carried"),
    [
        ({"raised_on": date(2026, 3, 23)}, True),
        ({"raised_on": date(2026, 3, 24)}, False),
        ({"raised_on": date(2026, 2, 9)}, True),
        ({"raised_on": date(2026, 2, 8)}, False),
        ({"region": "neck"}, False),
        ({"kind": "body_fatigue"}, False),
        ({"player_id": "P2"}, False),
        ({"flag_id": "f1", "raised_on": date(2026, 6, 1)}, True),
    ],
)
def test_which_flag_a_decided_one_is_today(change: dict[str, Any], carried: bool) -> None:
    found = carried_flags(SUBJECT, flags({"flag_id": "f2"} | change))
    assert found.rows() == ([("f1", change.get("flag_id", "f2"))] if carried else [])


def test_a_region_keeps_apart_only_the_kinds_that_it_keeps_apart() -> None:
    moved = {"kind": "load_jump", "flag_id": "f2", "region": "neck"}
    subject = SUBJECT.with_columns(pl.lit("load_jump").alias("kind"))
    assert carried_flags(subject, flags(moved))["flag_id"].to_list() == ["f2"]
    same_day = flags({"flag_id": "b", "raised_on": date(2026, 3, 3)}, {"flag_id": "a", "raised_on": date(2026, 3, 1)})
    assert carried_flags(SUBJECT, same_day)["flag_id"].to_list() == ["a"]


@pytest.mark.parametrize(
    ("spoken", "expected"),
    [
        (((date(2026, 3, 1), 1.0), (DECIDED, 5.0), (date(2026, 3, 12), 6.3)), "grown"),
        (((date(2026, 3, 1), 9.0), (DECIDED, 5.0), (date(2026, 3, 12), 6.3)), "grown"),  # before it was raised nothing counts
        (((RAISED, 6.0), (DECIDED, 5.0), (date(2026, 3, 12), 6.3)), "under_decision"),  # the strongest night so far
        (((date(2026, 3, 12), 6.3),), "under_decision"),  # nothing to compare with
        (((DECIDED, 5.0), (date(2026, 3, 5), 6.3), (date(2026, 3, 12), 1.0)), "grown"),
    ],
)
def test_what_has_grown_since(spoken: tuple[tuple[date, float], ...], expected: str) -> None:
    assert state(decisions({"until": None}), flags({"alerted_on": None}), nights(*spoken))["state"] == expected


def test_an_alert_of_the_day_of_the_decision_was_known_to_it() -> None:
    assert state(decisions({}), flags({"alerted_on": DECIDED}))["state"] == "under_decision"
    late = decisions({"until": date(2026, 3, 10)})
    assert state(late, flags({"alerted_on": date(2026, 3, 9)}))["state"] == "grown"
    assert state(late, flags({"flag_id": "f2", "raised_on": date(2026, 6, 1)}))["state"] == "no_flag"
