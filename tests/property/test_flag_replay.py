from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.estimates import Estimates
from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA
from pipelines.measures.flags.engine import flag_history
from pipelines.measures.flags.history import flags_as_of
from pipelines.measures.flags.rules import RULES
from pipelines.measures.flags.state import AlertPolicy

DAY = dt.date(2026, 1, 1)
KINDS = ("speed_fall", "scatter_rise", "load_jump", "body_stiff", "device_shift", "quiet")


@st.composite
def candidate(draw: st.DrawFn) -> dict[str, Any]:
    kind = draw(st.sampled_from(KINDS))
    return {
        "player_id": "" if kind == "device_shift" else draw(st.sampled_from(("P1", "P2", "P3"))),
        "on_date": DAY + dt.timedelta(days=draw(st.integers(0, 60))),
        "kind": kind,
        "metric": draw(st.sampled_from(("a", "b"))),
        "device_id": draw(st.sampled_from(("", "bay-1"))),
        "opens": draw(st.booleans()),
        "holds": draw(st.booleans()),
        "certain": kind in {"load_jump", "device_shift"},
        "p_value": draw(st.sampled_from((None, 1e-5, 0.01, 0.3))),
        "strength": draw(st.sampled_from((1.0, 2.0))),
        "value": draw(st.sampled_from((1.0, 2.0, None))),
    }


histories = st.lists(
    candidate(), min_size=1, max_size=40, unique_by=lambda row: (row["player_id"], row["on_date"], row["kind"], row["metric"])
)


@settings(max_examples=60, deadline=None)
@given(histories, st.integers(0, 70))
def test_a_history_cut_short_gives_the_flags_of_that_night(rows: list[dict[str, Any]], cut: int) -> None:
    frame = pl.DataFrame(rows, schema_overrides={name: CANDIDATE_SCHEMA[name] for name in rows[0]}, infer_schema_length=None)
    night = DAY + dt.timedelta(days=cut)
    policy = AlertPolicy(per_week=2)
    whole = flag_history(frame, DAY + dt.timedelta(days=90), policy)
    short = flag_history(frame, night, policy)
    assert short.events.equals(whole.events.filter(pl.col("on_date") <= night))
    assert flags_as_of(whole.flags, whole.events, night).equals(short.flags)


@settings(max_examples=60, deadline=None)
@given(
    histories,
    st.lists(st.integers(20, 100), min_size=3, max_size=3)
    | st.integers(20, 100).map(lambda night: [night, night + 1, night + 5]),
    st.integers(0, 39),
)
def test_nights_that_build_on_each_other_give_what_a_whole_one_does(
    rows: list[dict[str, Any]], nights: list[int], late: int
) -> None:
    """Over weeks and the firsts of months, or within days; of the candidates one comes late, before the last night."""
    frame = pl.DataFrame(rows, schema_overrides={name: CANDIDATE_SCHEMA[name] for name in rows[0]}, infer_schema_length=None)
    earlier = Estimates()
    for place, night in enumerate(sorted(nights)):
        until, known = DAY + dt.timedelta(days=night), Estimates(earlier.asked)
        told = frame if place == 2 else frame.with_row_index().filter(pl.col("index") != late).drop("index")
        built = flag_history(told, until, AlertPolicy(per_week=2), id_key=b"k", estimates=known)
        whole = flag_history(told, until, AlertPolicy(per_week=2), id_key=b"k")
        assert built.flags.equals(whole.flags)
        assert built.events.equals(whole.events)
        earlier = known


@settings(max_examples=30, deadline=None)
@given(histories, st.randoms(use_true_random=False))
def test_the_order_of_candidates_does_not_matter(rows: list[dict[str, Any]], random: Any) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)
    schema = {name: CANDIDATE_SCHEMA[name] for name in rows[0]}
    until = DAY + dt.timedelta(days=80)
    one, two = (
        flag_history(pl.DataFrame(order, schema_overrides=schema, infer_schema_length=None), until) for order in (rows, shuffled)
    )
    assert one.flags.equals(two.flags)


@settings(max_examples=60, deadline=None)
@given(histories)
def test_never_more_messages_of_one_family_in_a_week_than_its_budget(rows: list[dict[str, Any]]) -> None:
    frame = pl.DataFrame(rows, schema_overrides={name: CANDIDATE_SCHEMA[name] for name in rows[0]}, infer_schema_length=None)
    history = flag_history(frame, DAY + dt.timedelta(days=80), AlertPolicy(per_week=2))
    family = {row["flag_id"]: RULES[row["kind"]].family for row in history.flags.iter_rows(named=True)}
    leaders = history.events.filter((pl.col("event") == "alerted") & (pl.col("led_by") == ""))
    sent = [(family[row["flag_id"]], row["on_date"]) for row in leaders.iter_rows(named=True)]
    for of, night in sent:
        assert sum(other == of and 0 <= (night - on).days < 7 for other, on in sent) <= 2
