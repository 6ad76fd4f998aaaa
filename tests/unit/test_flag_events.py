"""What the engine writes down: every column of flags and events, the levels, and the flags as they stood on a night."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import polars as pl
import pytest

from pipelines.measures.device.dating import DatedMove
from pipelines.measures.device.results import DeviceShift
from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA, candidates
from pipelines.measures.flags.device_rules import device_candidates
from pipelines.measures.flags.engine import flag_history
from pipelines.measures.flags.history import flags_as_of
from pipelines.measures.flags.identity import flag_id
from pipelines.measures.flags.night import looks
from pipelines.measures.flags.rules import RULES
from pipelines.measures.flags.state import AlertPolicy
from tests.unit.test_flag_engine import DAY, history, row

PROOF = {
    "value": 41.0, "baseline": 42.0, "low": 40.5, "high": 41.5, "p_value": 1e-4, "n": 12, "reasons": ["chart=7"],
    "sources": ["s1"],
    "n_players": 5,
}  # fmt: skip


def on(offset: int) -> dt.date:
    return DAY + dt.timedelta(days=offset)


def test_each_column_of_a_flag_and_of_its_events() -> None:
    rows = [row(0, **PROOF | {"p_value": 0.5}), row(2, **PROOF, strength=4.0), row(3, opens=False, **PROOF | {"value": 42.0})]
    found = history(rows, 30)
    one = flag_id(b"", ("P01", "speed_fall"), DAY)
    seen = {name: PROOF[name] for name in ("value", "baseline", "low", "high", "n", "reasons", "sources")}
    stream = {"metric": "club_speed_mps", "region": "", "club_group": "driver", "device_id": ""}
    alert = stream | seen | {"strength": 4.0, "p_value": 1e-4}
    assert found.flags.to_dicts() == [
        {
            "flag_id": one, "player_id": "P01", "kind": "speed_fall", "level": "alert", "audience": "both", "raised_on": DAY,
            "alerted_on": on(2), "closed_on": on(23), "closed_because": "over", "led_by": "", **alert,
        }
    ]  # fmt: skip
    head = {"flag_id": one, "led_by": ""}
    raised = stream | seen | {"strength": 3.0, "p_value": 0.5}
    assert found.events.to_dicts() == [
        head | {"on_date": DAY, "event": "raised", "level": "notice"} | raised,
        head | {"on_date": on(2), "event": "alerted", "level": "alert"} | alert,
        head | {"on_date": on(23), "event": "over", "level": "alert"} | alert,
    ]


def test_an_id_is_made_of_secret_player_kind_and_night() -> None:
    """Base32 of the first five bytes of an HMAC-SHA-256 over the parts: the rule written out once more."""
    import base64  # noqa: PLC0415 - only here
    import hashlib  # noqa: PLC0415
    import hmac  # noqa: PLC0415

    digest = hmac.new(b"key", b"P01\x1fspeed_fall\x1f2026-03-01", hashlib.sha256).digest()
    assert flag_id(b"key", ("P01", "speed_fall"), DAY) == base64.b32encode(digest[:5]).decode().lower()


def test_the_row_that_opens_speaks_before_one_that_holds_and_that_before_a_stronger_one() -> None:
    silent = row(0, club_group="putter", opens=False, strength=9.0) | {"holds": False}
    holds = row(0, club_group="iron", strength=5.0) | {"opens": False, "holds": True}
    opens = row(0, club_group="driver", strength=1.0)
    frame = candidates(pl.DataFrame([silent, holds, opens], schema_overrides={"on_date": pl.Date}))
    for rows, leads in (([silent, holds, opens], "driver"), ([silent, holds], "iron"), ([silent], "putter")):
        chosen = frame.filter(pl.col("club_group").is_in([one["club_group"] for one in rows]))
        look = looks(chosen.iter_rows(named=True), RULES)[0]
        assert (look.lead["club_group"], look.opens, look.holds) == (leads, len(rows) == 3, len(rows) > 1)
        assert (look.p_value, look.n_players, look.certain) == (None, 0, False)
        told = {"driver": "holds", "iron": "holds", "putter": "over"}
        assert look.streams == {"club_speed_mps  " + group: told[group] for group in chosen["club_group"]}


def test_a_night_takes_streams_together_by_simes_and_the_largest_counts() -> None:
    """Simes 1986: the smallest of m p_(j) / j, of as many as were tested."""
    rows = [row(0, club_group=group, p_value=p, n_streams=n, n_players=size, certain=certain) for group, p, n, size, certain in (
        ("driver", 0.03, 2, 7, False), ("iron", 0.02, 4, 9, True), ("wedge", None, 1, None, False))]  # fmt: skip
    rows[2] |= {"reasons": ["chart=1", "closed:lasting"], "opens": False}
    frame = candidates(pl.DataFrame(rows, schema_overrides={"on_date": pl.Date, "n_players": pl.Int64}))
    look = looks(frame.iter_rows(named=True), RULES)[0]
    assert look.p_value == pytest.approx(min(4 * 0.02, 4 * 0.03 / 2))
    assert (look.n_players, look.certain, look.streams["club_speed_mps  wedge"]) == (9, True, "lasting")
    only_holds = frame.with_columns(opens=pl.lit(value=False))
    assert not looks(only_holds.iter_rows(named=True), RULES)[0].certain


@pytest.mark.parametrize(
    ("rows", "until", "expected"),
    [
        ([row(0), row(5, opens=False)], 26, (21, "over")),  # 21 days after it last held
        ([row(0), row(20, opens=False)], 20, None),
        ([row(0), row(21, opens=False)], 21, (21, "over")),
        ([row(0), row(1, opens=False), row(20)], 40, None),  # it opens again within the latch
        ([row(0), row(30)], 89, None),
        ([row(0), row(30)], 90, (90, "no_data")),
        ([row(0), row(5, reasons=["closed:lasting"])], 30, None),  # it opens at the same time: it stays
        ([row(0), row(5, opens=False, reasons=["closed:back"])], 30, (5, "back")),
    ],
)
def test_when_a_flag_is_over(rows: list[dict[str, Any]], until: int, expected: tuple[int, str] | None) -> None:
    flag = history(rows, until).flags.row(0, named=True)
    told = (flag["closed_on"], flag["closed_because"])
    assert told == ((None, "") if expected is None else (on(expected[0]), expected[1]))


@pytest.mark.parametrize(("gap", "level"), [(6, "alert"), (7, "notice")])
def test_a_p_value_counts_for_seven_nights(gap: int, level: str) -> None:
    """Beside one that is beyond doubt, the second of 404 is rejected at twice a tenth of 1/404; alone,
    the first of 400 is not."""
    rows = [row(0, "scatter_rise", "P02", metric="m", p_value=1e-9, n_players=4), row(gap, p_value=0.0004, n_players=400)]
    assert history(rows, gap).flags.filter(pl.col("kind") == "speed_fall")["level"].to_list() == [level]


def test_a_suspected_device_takes_back_the_alerts_of_three_weeks_and_keeps_new_ones_notices() -> None:
    certain = {"certain": True, "device_id": "bay-1"}
    suspicion = row(30, "device_shift", "", metric="club_speed_mps", **certain)
    rows = [
        row(8, player="P1", **certain), row(9, player="P2", **certain), row(9, player="P3", certain=True, device_id="bay-2"),
        row(9, "load_jump", "P4", **certain), row(30, player="P5", **certain), row(31, player="P6", **certain), suspicion,
    ]  # fmt: skip
    found = history(rows, 31)
    level = {flag["player_id"]: (flag["level"], flag["alerted_on"]) for flag in found.flags.to_dicts()}
    assert level == {
        "P1": ("alert", on(8)), "P2": ("notice", None), "P3": ("alert", on(9)), "P5": ("notice", None), "P6": ("notice", None),
        "P4": ("alert", on(9)), "": ("alert", on(30)),
    }  # fmt: skip
    held = found.events.filter(pl.col("event") == "held")
    assert held.select("on_date", "level", "led_by").rows() == [(on(30), "notice", "")]
    standing = flags_as_of(found.flags, found.events, on(29)).sort("player_id")
    assert standing.select("player_id", "level", "alerted_on", "closed_on", "closed_because").rows() == [
        ("P1", "alert", on(8), None, ""), ("P2", "alert", on(9), None, ""), ("P3", "alert", on(9), None, ""),
        ("P4", "alert", on(9), on(16), "no_data"),
    ]  # fmt: skip
    assert standing.columns == found.flags.columns
    assert flags_as_of(found.flags, found.events, on(31)).equals(found.flags)


def test_messages_of_a_week_are_counted_by_family_and_the_strongest_go_first() -> None:
    rows = [row(day, "load_jump", f"P{day}", certain=True, strength=float(day)) for day in (0, 6)]
    rows += [row(6, "load_jump", "P9", certain=True, strength=2.0), row(7, "load_jump", "P8", certain=True)]
    levels = {flag["player_id"]: flag["level"] for flag in history(rows, 7, per_week=2).flags.to_dicts()}
    assert levels == {"P0": "alert", "P6": "alert", "P9": "notice", "P8": "alert"}
    assert (AlertPolicy().false_share, AlertPolicy().per_week) == (0.10, 15)


def test_rules_may_be_given_and_what_is_not_certain_waits_for_its_p_value() -> None:
    strict = MappingProxyType({**RULES, "speed_fall": replace(RULES["speed_fall"], largest_p_value=0.001, levels=("notice",))})
    frame = pl.DataFrame([row(0, certain=True)], schema_overrides={"on_date": pl.Date})
    assert flag_history(frame, DAY, rules=strict).flags["level"].to_list() == ["notice"]
    assert flag_history(frame, on(-1)).flags.is_empty()
    for p_value, level in ((0.0007, "alert"), (0.00071, "notice")):
        assert history([row(0, p_value=p_value)], 0).flags["level"].to_list() == [level]


def test_a_candidate_gets_every_column_with_its_default() -> None:
    bare = pl.DataFrame({"player_id": ["P1"], "on_date": [DAY], "kind": ["quiet"], "opens": [True], "holds": [False]})
    made = candidates(bare)
    assert made.schema == pl.Schema(CANDIDATE_SCHEMA)
    nothing = dict.fromkeys(("p_value", "n_streams", "n_players", "value", "baseline", "low", "high", "n"))
    texts = dict.fromkeys(("metric", "region", "club_group", "device_id"), "")
    assert made.to_dicts() == [
        bare.to_dicts()[0] | nothing | texts | {"certain": False, "strength": 0.0, "reasons": [], "sources": []}
    ]
    nulls = bare.with_columns(metric=pl.lit(None), certain=pl.lit(None), reasons=pl.lit(None), strength=pl.lit(None))
    assert candidates(nulls).equals(made)
    with pytest.raises(ValueError, match=r"missing columns \[\], unknown columns \['colour'\]"):
        candidates(bare.with_columns(colour=pl.lit("red")))
    with pytest.raises(ValueError, match=r"missing columns \['holds', 'kind', 'on_date', 'opens'\]"):
        candidates(bare.select("player_id"))


SHIFT = DeviceShift("bay-1", on(10), DatedMove(on(2), on(1), on(4), 1.5, 0.4), 4, 9, ("s1", "s2"), 7.0, "unclear", on(10))


def test_each_column_of_a_suspected_device() -> None:
    first, last = device_candidates((("club_speed_mps", SHIFT),)).to_dicts()
    assert first == {
        "player_id": "", "on_date": on(10), "kind": "device_shift", "metric": "club_speed_mps", "region": "", "club_group": "",
        "device_id": "bay-1", "opens": True, "holds": True, "certain": True, "p_value": None, "n_streams": None,
        "n_players": None,
        "strength": 3.5, "value": 1.5, "baseline": 0.0, "low": pytest.approx(1.5 - 0.658),
        "high": pytest.approx(1.5 + 0.658), "n": 9,
        "reasons": ["players=4", "earliest=2026-03-02", "latest=2026-03-05", "move=1.50", "cause:unclear"],
        "sources": ["s1", "s2"],
    }  # fmt: skip
    assert last == first | {
        "on_date": on(24),
        "opens": False,
        "holds": False,
        "reasons": [*first["reasons"][:4], "closed:unclear"],
    }


@pytest.mark.parametrize(
    ("cause", "told", "nights", "reasons"),
    [
        ("device", 10, [10, 24], ["cause:device", "closed:device"]),
        ("device", 15, [10, 15, 24], ["cause:unclear", "cause:device", "closed:device"]),
        ("device", 30, [10, 24], ["cause:unclear", "closed:unclear"]),
        ("players", 10, [10, 11], ["cause:players", "closed:players"]),
        ("players", 15, [10, 15], ["cause:unclear", "closed:players"]),
        ("players", 24, [10, 24], ["cause:unclear", "closed:players"]),
        ("players", 25, [10, 24], ["cause:unclear", "closed:unclear"]),
    ],
)
def test_a_suspicion_ends_when_it_is_told_who_moved(cause: Any, told: int, nights: list[int], reasons: list[str]) -> None:
    rows = device_candidates((("club_speed_mps", replace(SHIFT, cause=cause, told_on=on(told))),)).to_dicts()
    assert [(one["on_date"] - DAY).days for one in rows] == nights
    assert [one["reasons"][-1] for one in rows] == reasons
    assert [one["opens"] for one in rows] == [True] + [False] * (len(rows) - 1)
    assert [one["holds"] for one in rows] == [True] * (len(rows) - 1) + [False]
