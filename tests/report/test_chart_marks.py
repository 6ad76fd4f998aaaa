"""What charts of load and of the squad's problems mark, and for whom."""

from __future__ import annotations

import datetime as dt
import json
import re
from importlib.resources import files
from typing import TYPE_CHECKING, Any, cast

import polars as pl
import pytest

from reports.chart_rows import listed_rows
from reports.chart_shapes import REACH_METRICS
from reports.charts import Style, templates
from reports.numbers import Numbers
from reports.pages import player_speed as player_speed_page
from reports.pages import trend_figure as trend_figure_page
from reports.pages.context import page_context
from reports.pages.squad_marks import squad_moments, squad_spans
from reports.pages.trend_marks import (
    FLAG_KINDS,
    MOMENT_SCHEMA,
    PHASE_LANE,
    SPAN_SCHEMA,
    Marked,
    load_flags,
    marks_table,
    on_load,
    planned_spans,
    span,
)
from reports.words import words
from schemas.academy import Academy, Units
from warehouse.marts import PlayerMarts

if TYPE_CHECKING:
    from warehouse.marts import Audience, Marts

FIRST, LAST = dt.date(2026, 3, 1), dt.date(2026, 3, 29)


def day(number: int) -> dt.date:
    return FIRST + dt.timedelta(days=number)


def flag(kind: str, raised: int, closed: int | None = None, decided: int | None = None) -> dict[str, Any]:
    return {
        "flag_id": f"{kind}-{raised}",
        "kind": kind,
        "club_group": "",
        "metric": "",
        "raised_on": day(raised),
        "closed_on": None if closed is None else day(closed),
        "decision": None if decided is None else "ease",
        "decided_on": None if decided is None else day(decided),
    }


FLAGS = pl.DataFrame(
    [flag("load_jump", 3, 9, 5), flag("overuse_pattern", 10), flag("body_stiff", 11, 20, 13), flag("body_stiff", 12)],
    infer_schema_length=None,
)
PHASES = pl.DataFrame(
    [
        {"player_id": player, "phase": phase, "began_on": day(first), "ended_on": day(last)}
        for player, phase, first, last in (
            ("a", "base", 0, 13),
            ("a", "play", 14, 28),
            ("b", "base", 0, 20),
            ("c", "base", 0, 13),
        )
    ]
)
TRIALS = pl.DataFrame(
    [
        {"trial_id": name, "question": name, "began_on": day(first), "last_on": day(last), "n_shots": 40}
        for name, first, last in (("grip", 2, 6), ("stance", 5, 9), ("tempo", 20, 22))
    ]
)
MARKED = pl.DataFrame({"kind": ["device", "odd"], "on_date": [day(8), day(15)], "device_id": ["two", None]})


def marks(audience: Audience) -> tuple[set[tuple[Any, ...]], set[tuple[Any, ...]], str]:
    """Spans and moments of the load chart, as this reader sees them, and their table."""
    seen = FLAGS if audience == "physio" else FLAGS.filter(pl.col("kind") == "load_jump")
    mart = {"coach": "mart_flag_coach", "physio": "mart_flag_physio"}[audience]
    player = PlayerMarts("a", {mart: seen, "mart_phase": PHASES.filter(pl.col("player_id") == "a"),
                               "mart_trial_result": TRIALS, "mart_speed_mark": MARKED}, audience)  # fmt: skip
    context = page_context(Academy("Elm", "UTC"), audience, LAST)
    lasting, at_once = on_load(player, context, (FIRST, LAST), load_flags(player, context, (FIRST, LAST)))
    told = marks_table(lasting, at_once, context, planned_spans(player, context))
    return (
        set(lasting.frame.select("kind", "day", "words").rows()),
        set(at_once.frame.select("kind", "day", "words").rows()),
        str(told),
    )


def test_load_marks_flags_decisions_trials_devices_odd_sessions_and_phases() -> None:
    lasting, at_once, told = marks("coach")
    assert {(kind, start) for kind, start, _ in lasting} == {
        ("flag", day(3)), ("trial", day(2)), ("trial", day(5)), ("trial", day(20)), ("phase", day(0)), ("phase", day(14)),
    }  # fmt: skip
    assert {(kind, start) for kind, start, _ in at_once} == {
        *(("raised", day(3)), ("closed", day(9)), ("decided", day(5)), ("device", day(8)), ("odd", day(15))),
    }
    assert "odd driver session" in told
    assert "first session on two" in told


def test_the_table_tells_the_own_days_of_what_the_chart_cuts() -> None:
    """A phase that went on was said to end with the last session of a club that the chart shows."""
    cut = [span(day(3), day(9), PHASE_LANE, "phase", "build")]
    lasting, at_once = listed_rows(cut, SPAN_SCHEMA), listed_rows([], MOMENT_SCHEMA)
    context = page_context(Academy("Elm", "UTC"), "coach", LAST)
    told = marks_table(lasting, at_once, context, [span(day(0), day(20), PHASE_LANE, "phase", "build")])
    assert context.words.short_day(day(0)) in told
    assert context.words("marks.phase", name="build", until=context.words.short_day(day(20))) in told
    assert context.words.short_day(day(9)) in marks_table(lasting, at_once, context)


def test_what_is_of_the_body_is_marked_for_the_physio_alone() -> None:
    physio, coach = marks("physio"), marks("coach")
    assert [words for _, _, words in physio[0] - coach[0]] == ["several signs together"]
    assert "several signs" not in coach[2]


def test_scatter_is_marked_on_the_chart_of_its_own_direction() -> None:
    """A flag of the long-short scatter stood on the chart of the left-right scatter as well."""
    told = flag("scatter_rise", 3) | {"metric": "scatter_long_m", "club_group": "iron"}
    on = {metric: Marked(FLAG_KINDS[metric], "iron", FIRST, LAST, metric) for metric in ("scatter_side_m", "scatter_long_m")}
    assert {metric: marked.holds(told) for metric, marked in on.items()} == {"scatter_side_m": False, "scatter_long_m": True}
    assert on["scatter_side_m"].holds(flag("aim_shift", 3) | {"metric": "aim_deg", "club_group": "iron"})


class Squad:
    """The marts that the squad's chart reads."""

    def rows(self, mart: str) -> pl.DataFrame:
        device = flag("device_shift", 4, 8)
        with_device = pl.concat([FLAGS, pl.DataFrame([device], schema=FLAGS.schema)])
        return {"mart_flag_physio": with_device, "mart_trial_result": TRIALS, "mart_phase": PHASES}[mart]


WEEKS = pl.DataFrame({"week_ending": [day(6), day(13), day(20), day(27)]})


def test_the_squads_chart_counts_flags_on_the_body_by_week() -> None:
    found = squad_moments(cast("Marts", Squad()), page_context(Academy("Elm", "UTC"), "physio", LAST), WEEKS)
    assert found.frame.select("day", "kind", "words").rows() == [
        (day(13), "decided", "1 decision this week"),
        (day(13), "raised", "3 flags raised this week"),
        (day(20), "closed", "1 flag closed this week"),
    ]


def test_the_squads_chart_marks_trials_together_devices_and_the_phase_of_most() -> None:
    found = squad_spans(cast("Marts", Squad()), page_context(Academy("Elm", "UTC"), "physio", LAST), WEEKS)
    assert found.frame.select("kind", "day", "end", "words").rows() == [
        ("trial", day(2), day(9), "2 trials"),
        ("flag", day(4), day(8), "1 device suspected"),
        ("trial", day(20), day(22), "1 trial"),
        ("phase", day(0), day(20), "base"),
        ("phase", day(21), day(27), "play"),
    ]


@pytest.mark.parametrize("kind", ["trend", "load", "prevalence"])
def test_lines_begin_below_the_words(kind: str) -> None:
    """A line through a word made both hard to read: every line of a moment starts where the values do."""
    from reports.charts import ChartBook, Style, templates  # noqa: PLC0415
    from reports.charts.lanes import LANES  # noqa: PLC0415
    from reports.numbers import Numbers  # noqa: PLC0415
    from reports.words import words  # noqa: PLC0415
    from schemas.academy import Units  # noqa: PLC0415

    assert kind in templates()
    spec = ChartBook(Style(words("en"), Numbers(words("en"), Units()))).spec(kind)
    layers = spec.get("layer") or spec["vconcat"][0]["layer"]
    lines = [layer for layer in layers if layer["mark"]["type"] == "rule" and layer["data"]["name"] == "moments"]
    assert len(lines) == 2
    assert {layer["encoding"]["y"]["value"] for layer in lines} == {LANES}


@pytest.mark.parametrize("language", ["en", "de"])
def test_what_one_does_with_a_chart_stays_off_the_paper(language: str) -> None:
    one = words(language)
    assert trend_figure_page._reading(one, "figure.reading").endswith(f' <span class="drag">{one("figure.drag")}</span>')
    assert one("figure.drag") not in trend_figure_page._reading(one, "figure.reading_own")
    printed = re.findall(r"@media print \{([^@]*)", (files("reports") / "static" / "print.css").read_text("utf-8"))
    assert any(".drag { display: none; }" in rules for rules in printed)


def test_of_a_break_no_line_is_drawn_as_if_it_were_known() -> None:
    """Between two seasons thirteen months apart stood a line that fell week by week."""
    before, after = dt.date(2025, 7, 7), dt.date(2026, 8, 3)
    drawn = trend_figure_page.broken([(before, 45.0, 44.0), (after, 43.0, 42.0), (after + dt.timedelta(days=90), 43.0, 42.0)])
    assert drawn[1] == (before + dt.timedelta(days=1), None, None)
    assert [one[0] for one in drawn] == sorted(one[0] for one in drawn)
    assert len(drawn) == 4, "who comes every quarter keeps the line"


def test_the_small_charts_below_each_other_stop_in_a_break_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """The large chart left a year out, and the four small ones drew a line through it."""
    days = [dt.date(2025, 7, 7), dt.date(2025, 7, 14), dt.date(2026, 8, 3)]
    columns = {"day": days, **{name: [45.0, 45.1, 44.0] for name in ("level", "low", "high")}}
    monkeypatch.setattr(player_speed_page, "trend_columns", lambda *_: columns)
    told = player_speed_page._reach_rows(PlayerMarts("a", {}, "coach"), page_context(Academy("Academy", "UTC"), "coach", LAST))
    at = told.columns["day"].index(dt.date(2025, 7, 15))
    for metric in REACH_METRICS:
        assert [told.columns[f"{name}_{metric}"][at] for name in ("level", "stops")] == [None, True]
        assert told.columns[f"stops_{metric}"].count(True) == 1
    panel = json.dumps(templates()["reach"](Style(words("en"), Numbers(words("en"), Units()))).to_dict())
    assert "isValid(datum.level_club_speed_mps) || datum.stops_club_speed_mps" in panel
