from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl
import pytest

from pipelines.measures.estimates import Estimates
from pipelines.measures.flags import engine
from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA, candidates
from pipelines.measures.flags.engine import FlagHistory, flag_history
from pipelines.measures.flags.night import Look
from pipelines.measures.flags.rules import RULES
from pipelines.measures.flags.state import AlertPolicy, State

DAY = dt.date(2026, 3, 1)


def row(offset: int, kind: str = "speed_fall", player: str = "P01", **more: Any) -> dict[str, Any]:
    opens = more.pop("opens", True)
    base = {"player_id": player, "on_date": DAY + dt.timedelta(days=offset), "kind": kind, "opens": opens, "holds": opens}
    return base | {"metric": "club_speed_mps", "club_group": "driver", "strength": 3.0} | more


def history(rows: list[dict[str, Any]], until: int, **policy: Any) -> FlagHistory:
    frame = pl.DataFrame(rows, schema_overrides={name: CANDIDATE_SCHEMA[name] for name in rows[0]}, infer_schema_length=None)
    return flag_history(frame, DAY + dt.timedelta(days=until), AlertPolicy(**policy))


def test_every_kind_of_flag_has_a_rule() -> None:
    assert set(RULES) == {
        *("speed_fall", "speed_rise", "speed_stall", "transfer_loss", "scatter_rise", "scatter_fall", "aim_shift", "speed_cost"),
        "wild_rise",
        *("strokes_worse", "strokes_better"),
        *("load_jump", "load_flat", "body_stiff", "body_fatigue", "answers_fewer", "problem_report", "overuse_pattern"),
        *("plan_gap", "quiet", "device_shift"),
    }


def test_what_tells_of_the_body_is_for_the_physio_alone() -> None:
    assert {kind for kind, rule in RULES.items() if rule.audience == "physio"} == {
        "body_stiff",
        "body_fatigue",
        "answers_fewer",
        "problem_report",
        "overuse_pattern",
    }


def test_a_candidate_without_its_required_columns_is_refused() -> None:
    with pytest.raises(ValueError, match="missing columns"):
        candidates(pl.DataFrame({"player_id": ["P01"]}))


def test_a_kind_without_a_rule_is_refused() -> None:
    with pytest.raises(ValueError, match="no rule"):
        history([row(0, "no_such_kind")], 0)


def test_a_fact_is_an_alert_at_once() -> None:
    flag = history([row(0, "load_jump", certain=True)], 0).flags.row(0, named=True)
    assert (flag["level"], flag["raised_on"], flag["alerted_on"]) == ("alert", DAY, DAY)


def test_an_inference_with_a_large_p_value_stays_a_notice() -> None:
    flag = history([row(0, p_value=0.04, n_players=100)], 0).flags.row(0, named=True)
    assert (flag["level"], flag["alerted_on"]) == ("notice", None)


def test_a_notice_becomes_an_alert_when_its_p_value_is_rejected() -> None:
    flag = history([row(0, p_value=0.04, n_players=100), row(3, p_value=0.0001, n_players=100)], 5).flags.row(0, named=True)
    assert (flag["level"], flag["raised_on"], flag["alerted_on"]) == ("alert", DAY, DAY + dt.timedelta(days=3))


def test_alarms_less_than_the_latch_apart_are_one_flag() -> None:
    rows = [row(0), row(1, opens=False), row(15), row(16, opens=False)]
    assert history(rows, 30).flags.height == 1


def test_a_flag_closes_when_its_rule_has_not_held_for_the_latch() -> None:
    flag = history([row(0), row(1, opens=False)], 40).flags.row(0, named=True)
    assert (flag["closed_on"], flag["closed_because"]) == (DAY + dt.timedelta(days=21), "over")


def test_no_news_does_not_close_a_flag_before_it_lapses() -> None:
    rows = [row(0)]
    assert history(rows, 59).flags["closed_on"].to_list() == [None]
    assert history(rows, 60).flags["closed_because"].to_list() == ["no_data"]


def test_a_flag_closes_at_once_for_the_reason_that_its_rule_names() -> None:
    lasting = [row(day) for day in range(0, 45, 3)]
    flags = history([*lasting, row(45, opens=False, reasons=["chart=0", "closed:lasting"]), row(93)], 100).flags
    assert flags["raised_on"].to_list() == [DAY, DAY + dt.timedelta(days=93)]
    assert flags["closed_because"].to_list() == ["lasting", ""]
    assert flags["closed_on"][0] == DAY + dt.timedelta(days=45)


def test_what_is_not_a_shift_stays_open_while_it_holds() -> None:
    flags = history([row(day, "speed_cost") for day in range(0, 90, 3)], 90).flags
    assert flags["closed_on"].to_list() == [None]


def test_an_alarm_after_closing_is_a_new_flag() -> None:
    flags = history([row(0), row(1, opens=False), row(30)], 30).flags
    assert flags.height == 2
    assert flags["flag_id"].n_unique() == 2


def test_streams_of_one_player_and_kind_are_one_flag_led_by_the_strongest() -> None:
    rows = [row(0, club_group="iron", strength=4.0), row(0, club_group="driver")]
    assert history(rows, 0).flags["club_group"].to_list() == ["iron"]


def test_a_flag_closes_for_the_reason_of_the_stream_that_it_tells_of() -> None:
    """What another still holds is a flag of its own from then on, and closes for its own reason."""
    driver = [row(day) for day in range(0, 40, 3)] + [row(42, opens=False, reasons=["closed:lasting"])]
    irons = [row(day, club_group="iron", strength=1.0) for day in range(28, 57, 7)]
    back = row(60, club_group="iron", opens=False, strength=1.0, reasons=["closed:back"])
    flags = history([*driver, *irons, back], 60).flags
    assert flags["club_group"].to_list() == ["driver", "iron"]
    assert flags["closed_because"].to_list() == ["lasting", "back"]
    assert flags["raised_on"].to_list() == [DAY, DAY + dt.timedelta(days=42)]
    assert flags["closed_on"].to_list() == [DAY + dt.timedelta(days=42), DAY + dt.timedelta(days=60)]


def test_a_stream_that_ends_lends_its_chance_to_no_other() -> None:
    """The irons' gain has lasted: its small chance made an alert of what the driver had hardly gained."""
    ends = row(0, club_group="iron", opens=False, p_value=1e-6, n_players=20, reasons=["closed:lasting"])
    flag = history([row(0, p_value=0.2, n_players=20), ends], 0).flags.row(0, named=True)
    assert (flag["club_group"], flag["level"]) == ("driver", "notice")


def test_what_another_stream_names_closes_no_flag() -> None:
    rows = [row(0), row(0, club_group="iron", strength=1.0), row(5, club_group="iron", opens=False, reasons=["closed:back"])]
    assert history(rows, 59).flags["closed_on"].to_list() == [None]
    assert history(rows, 60).flags["closed_because"].to_list() == ["no_data"]


def test_a_stream_that_holds_keeps_a_flag_open_whose_own_holds_no_more() -> None:
    rows = [row(0), row(0, club_group="iron", strength=1.0), row(5, opens=False)]
    assert history(rows, 59).flags["closed_on"].to_list() == [None]
    assert history(rows, 60).flags["closed_because"].to_list() == ["over"]


def test_one_that_fell_silent_while_it_held_closes_for_want_of_data() -> None:
    rows = [row(0), *(row(day, club_group="iron", opens=False, strength=1.0) for day in range(0, 70, 10))]
    assert history(rows, 70).flags.select("closed_on", "closed_because").rows() == [(DAY + dt.timedelta(days=60), "no_data")]


def test_a_stream_of_two_devices_in_one_night_holds_on_either() -> None:
    rows = [row(0), row(30, device_id="A"), row(30, device_id="B", opens=False, reasons=["closed:back"])]
    assert history(rows, 35).flags["closed_on"].to_list() == [None]


def test_scatter_is_kept_apart_by_direction() -> None:
    rows = [row(0, "scatter_rise", metric=metric) for metric in ("scatter_side", "scatter_long")]
    assert history(rows, 0).flags.height == 2


def test_one_player_is_one_message_a_day() -> None:
    rows = [row(0, "load_jump", certain=True, strength=2.0), row(0, p_value=1e-6, n_players=10)]
    flags = history(rows, 0, per_week=1).flags.sort("kind")
    assert flags["level"].to_list() == ["alert", "alert"]
    assert flags["led_by"].to_list() == [flags["flag_id"][1], ""]


def test_beyond_the_budget_the_weaker_wait_as_notices() -> None:
    rows = [row(0, player=f"P{i}", p_value=1e-9, n_players=10, strength=float(i)) for i in range(5)]
    flags = history(rows, 0, per_week=2).flags
    assert set(flags.filter(pl.col("level") == "alert")["player_id"]) == {"P3", "P4"}


def test_the_body_has_a_budget_and_a_false_discovery_rate_of_its_own() -> None:
    ball = [row(0, player="P1", p_value=0.0004, n_players=40), row(0, "load_jump", "P2", certain=True, strength=1.0)]
    body = [row(0, "body_stiff", f"P{i}", region="neck", p_value=1e-9, n_players=40, strength=9.0) for i in range(3, 40)]
    for policy in ({"per_week": 2}, {"per_week": 2, "false_share": 0.02}):
        alone, beside = (history(rows, 0, **policy).flags.filter(pl.col("kind") != "body_stiff") for rows in (ball, ball + body))
        assert alone.equals(beside)
    assert history(ball + body, 0, per_week=2).flags.filter(pl.col("level") == "alert").height == 4


def test_a_message_of_the_ball_is_not_led_by_a_flag_of_the_body() -> None:
    rows = [row(0, "load_jump", certain=True, strength=1.0), row(0, "problem_report", certain=True, strength=9.0)]
    assert history(rows, 0, per_week=1).flags["led_by"].to_list() == ["", ""]


def test_ids_are_those_of_the_secret() -> None:
    frame = pl.DataFrame([row(0)], schema_overrides={name: CANDIDATE_SCHEMA[name] for name in row(0)})
    ids = [flag_history(frame, DAY, id_key=key).flags["flag_id"][0] for key in (b"", b"one", b"two", b"two")]
    assert (len(set(ids)), ids[2]) == (3, ids[3])


def test_the_budget_is_free_again_after_a_week() -> None:
    rows = [row(0, "load_jump", "P1", certain=True), *(row(day, "load_jump", "P2", certain=True) for day in (3, 7))]
    flags = history(rows, 7, per_week=1).flags
    assert flags["alerted_on"].to_list() == [DAY, DAY + dt.timedelta(days=7)]


def test_a_suspected_device_holds_alerts_of_its_players_and_takes_recent_ones_back() -> None:
    shift = row(2, "device_shift", "", device_id="bay-3", certain=True)
    early = row(0, player="P1", device_id="bay-3", p_value=1e-9, n_players=5)
    late = row(3, player="P2", device_id="bay-3", p_value=1e-9, n_players=5)
    other = row(3, player="P3", device_id="bay-4", p_value=1e-9, n_players=5)
    outcome = history([early, shift, late, other], 3)
    levels = dict(outcome.flags.filter(pl.col("kind") == "speed_fall").select("player_id", "level").iter_rows())
    assert levels == {"P1": "notice", "P2": "notice", "P3": "alert"}
    assert "held" in outcome.events["event"].to_list()


def test_notice_only_kinds_never_alert() -> None:
    assert history([row(0, "quiet", certain=True)], 0).flags["level"].to_list() == ["notice"]


def test_no_candidates_no_flags() -> None:
    empty = flag_history(pl.DataFrame(schema=CANDIDATE_SCHEMA), DAY)
    assert empty.flags.is_empty()
    assert empty.events.is_empty()


def test_a_fall_of_speed_is_told_at_a_larger_chance_than_a_rise() -> None:
    """Chances of falls are means over what is not known of slow form: larger than those for which the limit had been chosen."""
    for kind, level in (("speed_fall", "alert"), ("speed_rise", "notice")):
        assert history([row(0, kind, p_value=0.0006)], 10).flags["level"].to_list() == [level]
    assert history([row(0, p_value=0.0008)], 10).flags["level"].to_list() == ["notice"]


def test_a_night_after_a_night_passes_the_nights_of_two_weeks_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    passed: list[dt.date] = []
    whole = engine._pass_night

    def pass_night(state: State, night: dt.date, seen: list[Look]) -> None:
        passed.append(night)
        whole(state, night, seen)

    monkeypatch.setattr(engine, "_pass_night", pass_night)
    rows, known = candidates(pl.DataFrame([row(day, p_value=0.5) for day in range(80)])), Estimates()
    flag_history(rows, DAY + dt.timedelta(days=82), estimates=known)
    assert len(passed) == 83
    for night in (83, 84, 85):  # from a Saturday to a Monday
        passed.clear()
        known = Estimates(known.asked)
        flag_history(rows, DAY + dt.timedelta(days=night), estimates=known)
        assert passed[0] == dt.date(2026, 5, 18), "the Monday of these weeks"
