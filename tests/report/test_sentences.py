"""Every branch of the sentences: with and without numbers, one and many, clear, not clear, flat, learning, missing."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import Any

import polars as pl
import pytest

from reports.findings.data import files_sentence, offset_sentence, problems_sentence, rule_name
from reports.findings.flags import club_name, flag_evidence, flag_kind, flag_sentence, reason_texts, sided
from reports.findings.load_body import assumed_note, assumed_sentence
from reports.findings.programme import called, done_share, phase_sentence, tally
from reports.findings.reach import reach_sentence
from reports.findings.today import closed_since, messages, new_since
from reports.findings.trend import change_text, own_sentence, since_sentence, trend_sentence, verdict
from reports.numbers import METRIC_QUANTITY, Numbers
from reports.words import NARROW_SPACE, words
from schemas.academy import Academy, Units
from schemas.marts import marts
from tests.report.conftest import KINDS, LAST_ON, flags

UNITS = Units("mph", "yd")
EN = words("en")
NUMBERS = Numbers(EN, UNITS)
PLAIN = {NARROW_SPACE: " "}


def plain(text: str) -> str:
    return text.replace(NARROW_SPACE, " ")


def flag(kind: str, **values: Any) -> dict[str, Any]:
    empty: dict[str, Any] = {
        "metric": "",
        "region": "",
        "club_group": "",
        "device_id": "",
        "value": None,
        "baseline": None,
        "n": None,
    }
    return empty | {"kind": kind, "reasons": []} | values


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize(("kind", "metric"), KINDS)
@pytest.mark.parametrize("numbers", [{"value": 4.0, "baseline": 3.0}, {"value": 4.0}, {}])
def test_every_kind_has_a_sentence_with_any_numbers(language: str, kind: str, metric: str, numbers: dict[str, float]) -> None:
    said = flag_sentence(flag(kind, metric=metric, region="lower_back", club_group="driver", **numbers), words(language), UNITS)
    assert said.endswith(".")
    assert said[0].isupper() or said[0].isdigit()
    assert "{" not in said
    assert "None" not in said


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            flag("speed_fall", metric="club_speed_mps", club_group="driver", value=44.0, baseline=45.0),
            "Club speed with the driver is down 2.2 mph: 98.4 mph, usually 100.7 mph.",
        ),
        (
            flag("speed_rise", metric="club_speed_mps", club_group="iron", value=40.0),
            "Club speed with the irons is up to 89.5 mph.",
        ),
        (
            flag("aim_shift", metric="aim_deg", club_group="driver", value=-2.7, baseline=0.3),
            "The middle of the pattern with the driver has moved 3.0° to the left: 2.7° left, before 0.3° right.",
        ),
        (
            flag("load_jump", metric="day_swings", value=241.0, baseline=120.0),
            "241 swings on one day, 101 % more than on the biggest day of the 30 days before (120).",
        ),
        (flag("load_flat", metric="days_without_easy", value=15.0, baseline=14.0), "15 days in a row without an easy day."),
        (
            flag("body_fatigue", metric="sleep_h", value=5.6, baseline=7.1),
            "Sleep is short: 5.6 h a night, usually 7.1 h.",
        ),
        (
            flag("overuse_pattern", region="lead_wrist", value=2.0, reasons=["load_up", "region_stiff"]),
            "Several signs together (lead wrist): load is up and the region is stiff.",
        ),
        (
            flag("overuse_pattern", value=2.0, reasons=["load_up", "region_stiff"]),
            "Several signs together: load is up and the region is stiff.",
        ),
        (flag("quiet", value=11.0), "Nothing has come for 11 days."),
        (flag("quiet", value=11.0, raised_on=LAST_ON), "Nothing has come since 4 March 2026."),
        (flag("unheard_of"), "Unheard of."),
    ],
)
def test_what_a_flag_says(row: dict[str, Any], said: str) -> None:
    assert plain(flag_sentence(row, EN, UNITS)) == said


def test_reasons_are_words_and_unknown_codes_stand_as_they_are() -> None:
    assert reason_texts(flag("x", reasons=["onset:sudden", "missing:sleep", "new_code"]), EN) == [
        "onset sudden",
        "sleep is not known",
        "new code",
    ]
    assert reason_texts(flag("x", reasons=None), EN) == []
    assert flag_kind({"kind": "new_kind"}, EN) == "new kind"


def test_the_evidence_says_only_what_is_there() -> None:
    full = flag("speed_fall", metric="club_speed_mps", low=44.0, high=45.0, n=1, raised_on=LAST_ON)
    assert plain(flag_evidence(full, EN, UNITS)) == ("90 % interval 98.4 to 100.7 mph; 1 own session before; since 15 March 2026")
    assert flag_evidence(flag("quiet", n=11), EN, UNITS) == ""
    assert "4.0° right to 5.0° right" in flag_evidence(flag("aim_shift", metric="aim_deg", low=4.0, high=5.0), EN, UNITS)


def test_strokes_have_as_many_decimals_in_the_evidence_as_in_the_sentence() -> None:
    row = flag("strokes_worse", metric="strokes", value=1.48, baseline=0.0, low=0.97, high=1.99)
    assert "1.5 strokes" in plain(flag_sentence(row, EN, UNITS))
    assert plain(flag_evidence(row, EN, UNITS)) == "90 % interval 1.0 to 2.0 strokes"


def trend(**values: Any) -> dict[str, Any]:
    row = {
        "metric": "club_speed_mps",
        "club_group": "driver",
        "level": 45.0,
        "level_low": 44.5,
        "level_high": 45.5,
        "change_28": 0.4,
        "change_28_low": -0.2,
        "change_28_high": 1.0,
        "p_up": 0.9,
        "p_better": 0.3,
        "p_trivial": 0.69,
        "p_worse": 0.01,
        "worthwhile": 0.8,
        "usual_n": 12,
        "state": "steady",
        "on_date": LAST_ON,
    }
    return row | values


UP = {"p_better": 0.95, "p_up": 0.99, "change_28_low": 0.1}
DOWN = {"p_worse": 0.95, "p_up": 0.01, "change_28": -0.9, "change_28_low": -1.5, "change_28_high": -0.3}
FLAT = {"p_trivial": 0.95}


@pytest.mark.parametrize(
    ("values", "called_as", "begins"),
    [
        ({"p_better": 0.95, "change_28_low": 0.1}, "up", "Yes, club speed is up: +0.4 % in 28 days"),
        ({"p_better": 0.95, "change_28_low": -0.1}, "open", "Not clear yet whether club speed is changing"),
        (DOWN, "down", "Club speed is down: −0.9 % in 28 days"),
        (DOWN | {"change_28_high": 0.1}, "open", "Not clear yet whether club speed is changing"),
        ({"p_trivial": 0.95}, "flat", "Steady: club speed +0.4 % in 28 days"),
        ({"p_trivial": 0.95, "change_28_low": 0.1}, "flat", "Hardly any change of club speed: +0.4 % in 28 days"),
        (
            {"change_28_low": 0.1},
            "open",
            "Club speed has risen, but not clearly by more than is worth calling a change (0.8 %): +0.4",
        ),
        (
            DOWN | {"p_worse": 0.7},
            "open",
            "Club speed has fallen, but not clearly by more than is worth calling a change (0.8 %)",
        ),
        (DOWN | {"p_worse": 0.7, "state": "stalled"}, "open", "The rise of club speed has stopped"),
        ({}, "open", "Not clear yet whether club speed is changing"),
        ({"state": "stalled"}, "open", "The rise of club speed has stopped"),
        (
            {"state": "learning", "usual_n": 1},
            "learning",
            "Still learning the normal of club speed: it rests on 1 earlier session so far.",
        ),
        (
            {"change_28": None, "usual_n": 3},
            "learning",
            "Still learning the normal of club speed: it rests on 3 earlier sessions so far.",
        ),
        ({"p_better": None, "p_worse": None, "p_trivial": None}, "open", "Not clear yet"),
    ],
)
def test_what_a_trend_says(values: dict[str, Any], called_as: str, begins: str) -> None:
    row = trend(**values)
    assert verdict(row) == called_as
    assert plain(trend_sentence(row, NUMBERS)).startswith(begins)


@pytest.mark.parametrize("values", [{"p_better": 0.95}, {"p_worse": 0.95}, {"p_trivial": 0.95}, {}, {"change_28": None}])
def test_a_trend_in_plain_words(values: dict[str, Any]) -> None:
    said = own_sentence(trend(**values), NUMBERS)
    assert said.startswith("Your club speed ")
    assert "interval" not in said


def test_changes_are_in_per_cent_or_in_the_unit() -> None:
    assert plain(change_text("club_speed_mps", -1.25, NUMBERS)) == "−1.2 %"
    assert plain(change_text("aim_deg", 1.0, NUMBERS)) == "+1.0°"
    assert change_text("club_speed_mps", None, NUMBERS) == "–"
    assert "right" in trend_sentence(trend(metric="aim_deg", level=1.0), NUMBERS)


@pytest.mark.parametrize(
    ("now", "lasts", "ends"),
    [(47.0, True, "a clear rise (+4.4 %, 90 % interval +2.1 to +6.9 %)."),
     (43.0, True, "a clear fall (−4.4 %, 90 % interval −6.6 to −2.2 %)."),
     (46.2, False, "a difference, but less than is worth calling a change (+2.7 %, 90 % interval +0.3 to +5.1 %)."),
     (45.2, False, "no clear difference (+0.4 %, 90 % interval −1.8 to +2.8 %).")],
)  # fmt: skip
def test_then_and_now(now: float, lasts: bool, ends: str) -> None:
    change = 100 * math.log(now / 45.0)
    then = {"then_level": 45.0, "then_on": LAST_ON, "lasts": lasts, "change": change}
    said = since_sentence(then | {"change_low": change - 2.3, "change_high": change + 2.3}, "club_speed_mps", NUMBERS)
    assert plain(said).startswith(f"On {LAST_ON.day} March 2026 it was 100.7 mph, now {now / 0.44704:.1f} mph: ")
    assert plain(said).replace(" % to", " to").endswith(ends)


@pytest.mark.parametrize(
    ("speed", "ball", "begins"),
    [
        (None, UP, "No club speed was measured"),
        ({"state": "learning"}, UP, "Too few sessions yet"),
        (FLAT, UP, "Club speed has not clearly changed"),
        ({}, UP, "It is not clear yet whether club speed is changing"),
        (UP, UP, "Yes: club speed"),
        (UP, FLAT, "No: club speed"),
        (UP, DOWN, "No: club speed"),
        (UP, {}, "Club speed +0.4 % in 28 days; whether the ball has followed"),
        (DOWN, DOWN, "Club speed −0.9 % in 28 days, and the ball with it"),
        (DOWN, UP, "Club speed −0.9 % in 28 days, but not at the ball"),
        (DOWN, {}, "Club speed −0.9 % in 28 days; whether the ball has gone"),
    ],
)
def test_whether_speed_reaches_the_ball(speed: dict[str, Any] | None, ball: dict[str, Any], begins: str) -> None:
    last = {"ball_speed_mps": trend(metric="ball_speed_mps", **ball)}
    if speed is not None:
        last["club_speed_mps"] = trend(**speed)
    assert plain(reach_sentence(last, NUMBERS)).startswith(begins)


def phase(low: float | None, high: float | None, **values: Any) -> dict[str, Any]:
    quantities = (("speed_change", "_mps"), ("scatter_change", "_m"), ("stroke_change", ""))
    ends = (("_low", low), ("_high", high), ("", low))
    bounds = {f"{name}{end}{unit}": value for name, unit in quantities for end, value in ends}
    return bounds | {"done_full": 150, "done_share": 0.75, "n_days": 14, "n_days_known": 14} | values


def test_phases() -> None:
    rows = [phase(0.1, 1.0), phase(-1.0, -0.1), phase(-1.0, 1.0), phase(None, None)]
    assert [called(row, "speed_change") for row in rows] == ["up", "down", "open", "unknown"]
    assert tally(rows, "speed_change", EN) == "up in 1, down in 1 and not clear in 1 of 3"
    assert tally(rows[3:], "speed_change", EN) == "not known"
    assert phase_sentence("base", rows[:1], NUMBERS).startswith("Once: club speed up; left-right scatter up; ")
    assert phase_sentence("base", list(rows), NUMBERS).startswith("4 times")
    assert phase_sentence("base", rows[:1], NUMBERS).endswith("strokes a round up.")
    assert plain(done_share(rows[0], EN)) == "75 %"
    assert done_share(phase(0, 1, done_share=None), EN) == ""
    assert done_share(phase(0, 1, done_share=None, done_full=None, n_days_known=6), EN) == "6 of 14 days known"
    assert done_share(phase(0, 1, done_share=None, done_full=None, n_days=0), EN) == ""


def test_files_and_problems() -> None:
    schema = marts()["mart_file"].polars_schema()
    assert files_sentence(pl.DataFrame(schema=schema), EN) == "No file has come yet."
    one = {"n_rows": 10, "n_loaded": 8, "n_quarantined": 2, "status": "loaded"}
    assert files_sentence(pl.DataFrame([one]), EN) == "1 file has come. Rows: 10 in, 8 loaded, 2 waiting."
    two = pl.DataFrame([one, one | {"status": "held"}])
    assert files_sentence(two, EN) == "2 files have come. Rows: 20 in, 16 loaded, 4 waiting. 1 file is held whole."
    assert problems_sentence(0, 0, EN).startswith("Nothing waits")
    assert problems_sentence(1, 1, EN) == "1 problem waits."
    assert problems_sentence(2, 9, EN) == "9 problems wait, in 2 groups."
    assert rule_name("out_of_range", EN) == "outside the limits"
    assert rule_name("brand_new", EN) == "brand new"


def test_device_offsets() -> None:
    row = {"metric": "club_speed_mps", "offset": 0.8, "error": 0.2, "n_bridges": 4, "basis": "two devices", "from_on": LAST_ON}
    assert plain(offset_sentence(row, NUMBERS)).startswith("club speed +0.8 % (standard error 0.2 %; 4 players")
    assert "cannot be told" in offset_sentence(row | {"error": None}, NUMBERS)
    small = row | {"metric": "attack_deg", "offset": 0.01, "error": 0.035, "n_bridges": 22}
    assert plain(offset_sentence(small, NUMBERS)).startswith("attack 0.0° (standard error 0.04°; 22 players"), (
        "an error is never zero"
    )


def test_one_message_for_each_player() -> None:
    frame = pl.DataFrame(flags()).with_columns(alias=pl.lit("x"))
    found = messages(frame, body_first=False)
    assert [message.lead["player_id"] for message in found] == ["p1", ""]
    assert len(found[0].others) == len(KINDS) - 2
    assert new_since(frame, LAST_ON).height == 1
    assert closed_since(frame, LAST_ON).is_empty()
    assert messages(frame.clear(), body_first=True) == []


def test_a_message_weighs_what_leads_it_and_a_tenth_of_the_rest() -> None:
    """By their ids those of p2 would come first."""
    one = flags()[0] | {"level": "alert", "value": None, "baseline": None, "closed_on": None, "decision": None}
    kinds = (("p2", "load_flat"), ("p1", "plan_gap"), ("p1", "load_flat"), ("p1", "speed_stall"))
    rows = [one | {"flag_id": f"F{at}", "player_id": player, "kind": kind} for at, (player, kind) in enumerate(kinds)]
    frame = pl.DataFrame(rows, infer_schema_length=None).with_columns(closed_on=pl.lit(None, dtype=pl.Date))
    first, second = messages(frame, body_first=False)
    assert [row["kind"] for row in (first.lead, *first.others)] == ["load_flat", "speed_stall", "plan_gap"]
    assert (first.weight, second.weight) == (pytest.approx(0.4 + 0.1 * (0.2 + 0.15)), pytest.approx(0.4))


def test_days_without_a_row_that_count_as_days_off_are_said() -> None:
    assert assumed_sentence({"days_assumed_28": 0}, EN) == ""
    assert assumed_sentence({"days_assumed_28": 1}, EN) == "1 of the last 28 days has no row and counts as a day off."
    assert assumed_sentence({"days_assumed_28": 12}, EN) == "12 of the last 28 days have no row and count as days off."
    quiet = Academy("Hill", "UTC")
    assert assumed_note(quiet, EN) == ""
    assert assumed_note(replace(quiet, group_day_without_row={"U16": "unknown"}), EN) == ""
    some = replace(quiet, group_day_without_row={"U16": "off", "U18": "off", "pro": "unknown"})
    assert "for U16 and U18, as" in assumed_note(some, EN)
    assert "not for pro, as" in assumed_note(replace(some, day_without_row="off"), EN)
    assert assumed_note(replace(quiet, day_without_row="off"), EN).startswith("A day without a row counts as a day off")


@pytest.mark.parametrize(
    ("latest", "english", "german"),
    [
        ("2026-03-02", "it did so on {0}.", "dann seit dem {0}."),
        ("2026-03-05", "it did so between {0} and {1}:", "dann seit einem Tag vom {0} bis zum {1}:"),
    ],
)
def test_a_suspected_device_says_when_it_moved_if_it_did(latest: str, english: str, german: str) -> None:
    row = {
        "kind": "device_shift", "metric": "club_speed_mps", "device_id": "unit-1", "value": 1.5, "baseline": 0.0,
        "reasons": ["players=4", "earliest=2026-03-02", f"latest={latest}", "move=1.50", "cause:unclear"],
    }  # fmt: skip
    for language, expected in (("en", english), ("de", german)):
        one = words(language)
        days = [one.day(dt.date.fromisoformat(day)) for day in ("2026-03-02", latest)]
        assert expected.format(*days) in flag_sentence(row, one, UNITS)
    assert "If the device moved" not in flag_sentence(row | {"reasons": []}, EN, UNITS)


def test_a_group_of_clubs_without_words_stands_as_it_is() -> None:
    assert (club_name("driver", words("en")), club_name("chipper", words("en"))) == ("driver", "chipper")


def test_of_a_share_points_are_likely_to_be_real_and_not_per_cent_of_it() -> None:
    row = flag("wild_rise", metric="wild_pct", club_group="driver", value=6.4, baseline=1.8, reasons=["likely=0.5"])
    assert plain(flag_sentence(row, EN, UNITS)).endswith(
        "wild: 6.4 %, before 1.8 %. About 0.5 points of that is likely to be real."
    )
    sure = flag_sentence(row | {"reasons": ["chart=3.0"]}, EN, UNITS)
    assert plain(sure).endswith("wild: 6.4 %, before 1.8 %.")


@pytest.mark.parametrize("kind", ["load_jump", "load_flat", "answers_fewer", "plan_gap", "overuse_pattern"])
@pytest.mark.parametrize("closed", [None, dt.date(2026, 4, 1)])
def test_what_is_said_of_days_gone_by_says_of_which_day_it_is(kind: str, closed: dt.date | None) -> None:
    row = flag(kind, metric="week_swings", value=127.0, baseline=20.0, reasons=["load_up", "speed_fall"], closed_on=closed)
    row |= {"said_on": dt.date(2026, 3, 1), "now_value": None}
    assert flag_sentence(row, EN, UNITS).endswith(" So it was on 1 March 2026.")
    assert flag_sentence(row, words("de"), UNITS).endswith(" So war es am 1. März 2026.")
    assert "So it was" not in flag_sentence(row | {"kind": "speed_fall"}, EN, UNITS)


def test_what_a_device_reads_since_a_move_or_a_decision_is_not_said_to_come_from_players_on_two_devices() -> None:
    row = {"metric": "club_speed_mps", "offset": -0.2, "error": 0.1, "n_bridges": 9, "basis": "moved", "from_on": LAST_ON}
    assert plain(offset_sentence(row, NUMBERS)) == (
        "club speed −0.2 % (standard error 0.1 %; from 15 March 2026 on, as it has moved: told by sessions of 9 players)"
    )
    decided = offset_sentence(row | {"basis": "decided", "n_bridges": 0}, NUMBERS)
    assert decided.endswith("from 15 March 2026 on, as a person decided)")


@pytest.mark.parametrize(
    ("value", "told"), [(-0.03, "0.0°"), (0.03, "0.0°"), (-0.06, "0.1° left"), (1.3, "1.3° right"), (None, "–")]
)
def test_what_is_printed_as_zero_lies_on_no_side(value: float | None, told: str) -> None:
    """The middle of a pattern lay "before 0.0° left"."""
    assert plain(sided(NUMBERS, METRIC_QUANTITY["aim_deg"], value)) == told
