"""Whoever has left is nobody's task any more: flags close with the day of leaving."""

from __future__ import annotations

import datetime as dt

import polars as pl

from pipelines.measures.flags.history import flags_as_of
from pipelines.measures.flags.left import closed_where_left
from tests.unit.test_flag_engine import DAY, history, row

PLAYERS = {"player_id": ["P01", "P02"], "left_on": [DAY + dt.timedelta(days=9), None]}


def left(days: int) -> pl.DataFrame:
    return pl.DataFrame(PLAYERS | {"left_on": [DAY + dt.timedelta(days=days), None]}, schema_overrides={"left_on": pl.Date})


def test_what_is_open_closes_on_the_day_of_leaving() -> None:
    """A month after two had left, they stood among those who need a look."""
    found = history([row(0, p_value=1e-4), row(12, p_value=1e-4)], 14)
    gone = closed_where_left(found, left(9), DAY + dt.timedelta(days=14))
    assert gone.flags.select("closed_on", "closed_because").rows() == [(DAY + dt.timedelta(days=9), "left")]
    assert gone.events["event"].to_list()[-1] == "left"
    assert gone.events["on_date"].max() == DAY + dt.timedelta(days=9)
    again = flags_as_of(gone.flags, gone.events, DAY + dt.timedelta(days=14))
    assert again.select("closed_on", "closed_because").rows() == [(DAY + dt.timedelta(days=9), "left")]
    before = flags_as_of(gone.flags, gone.events, DAY + dt.timedelta(days=8))
    assert before["closed_on"].to_list() == [None]


def test_who_leaves_later_or_not_at_all_is_still_here() -> None:
    found = history([row(0, p_value=1e-4)], 5)
    same = closed_where_left(found, left(9), DAY + dt.timedelta(days=5))
    assert same.flags.equals(found.flags)
    assert same.events.equals(found.events)


def test_what_closed_before_keeps_its_reason() -> None:
    found = history([row(0, p_value=1e-4)], 60)
    (closed,) = found.flags["closed_on"].to_list()
    kept = closed_where_left(found, left((closed - DAY).days + 3), DAY + dt.timedelta(days=60))
    assert kept.flags.equals(found.flags)


def test_what_is_raised_after_the_day_of_leaving_closes_at_once_and_is_no_alert() -> None:
    found = history([row(3, p_value=0.5), row(5, p_value=1e-4)], 8)
    gone = closed_where_left(found, left(1), DAY + dt.timedelta(days=8))
    raised = DAY + dt.timedelta(days=3)
    assert gone.flags.select("raised_on", "closed_on", "level", "alerted_on").rows() == [(raised, raised, "notice", None)]
    assert gone.events["event"].to_list() == ["raised", "left"]
