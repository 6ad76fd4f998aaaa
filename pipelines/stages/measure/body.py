"""Body: answers, weekly forms, absences and screens in, of players who agreed; ``body_*``, ``problem_*`` and candidates out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.body.answering import adherence, silent_days, week_mean
from pipelines.measures.body.history import SHOWN_DAYS, AnswerHistory, Before, answer_history, first_read
from pipelines.measures.body.items import ITEMS
from pipelines.measures.body.side import player_sides
from pipelines.measures.flags.answer_rules import answer_candidates
from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA
from pipelines.measures.flags.pattern_rules import problem_reports
from pipelines.measures.load.grid import day_grid, days_marked
from pipelines.measures.load.windows import WEEK_DAYS
from pipelines.measures.mobility.change import mobility_changes
from pipelines.measures.problems.cases import problem_cases
from pipelines.measures.problems.prevalence import weekly_prevalence
from pipelines.measures.problems.score import problem_scores
from pipelines.stages.measure.groups import group_members
from pipelines.stages.measure.load import in_contract, recent
from pipelines.stages.standing_days import StandingDays, are_stored
from schemas.core.flags import CANDIDATE
from schemas.core.load_body import (
    ANSWERING,
    BODY_DAY,
    BODY_WEEK,
    MOBILITY_CHANGE,
    PLAYER_SIDE,
    PREVALENCE_WEEK,
    PROBLEM_CASE,
    PROBLEM_WEEK,
)
from warehouse.connection import drop_days, frame, replace_days, replace_table, transaction
from warehouse.flags import replace_candidates, replace_candidates_since
from warehouse.in_turn import rows_in_turn
from warehouse.units import days_digest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    import duckdb

    from pipelines.measures.load.grid import DayGrid, Readings
    from schemas.academy import Academy
    from schemas.tables import Table

RISES, OTHER_KINDS = ("body_stiff", "body_fatigue"), ("answers_fewer", "problem_report")
KINDS = RISES + OTHER_KINDS
BODY = "body"

_ANSWERED = "select player_id, on_date from agreed_checkin where on_date <= ?"
_ITEMS = ", ".join(("player_id", "on_date", *ITEMS))
_CHECKINS = f"select {_ITEMS} from agreed_checkin where on_date <= ? order by player_id, on_date"
_CHECKINS_SINCE = f"select {_ITEMS} from agreed_checkin where on_date between ? and ? order by player_id, on_date"
_CHECKINS_IN_TURN = f"""
select {_ITEMS}
from agreed_checkin
where on_date <= ? and player_id >= ? and player_id < ?
order by player_id, on_date
"""
_FORMS = """
select player_id, week_ending, region, participation, modified, performance, symptoms, onset
from agreed_problem_report
where week_ending <= ?
order by player_id, week_ending, region
"""
_SESSIONS = "select player_id, on_date, kind from session_day where on_date <= ? order by player_id, on_date"
_HANDS = "select player_id, handed from player order by player_id"
_SCREENS = """
select player_id, date, test, side, value_deg
from agreed_mobility
where date <= ?
order by player_id, date, test, side
"""


def checkin_rows(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """Answers (player_id, on_date and every item) up to ``as_of``, of players who agreed."""
    return frame(con, _CHECKINS, [as_of])


def checkins_in_turn(con: duckdb.DuckDBPyConnection, as_of: date) -> Iterator[pl.DataFrame]:
    """The same, of some players at a time."""
    return rows_in_turn(con, _CHECKINS_IN_TURN, [as_of])


def form_rows(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """Weekly forms up to ``as_of``, of players who agreed."""
    return frame(con, _FORMS, [as_of])


def answer_grid(checkins: pl.DataFrame, as_of: date) -> DayGrid:
    """The grid of those who answered, from the first answer on."""
    return day_grid(checkins["player_id"], checkins["on_date"].min() or as_of, as_of)  # type: ignore[arg-type] # a date column


def measure_body(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write answers against the own normal, the body map, weekly forms, cases, prevalence, screens, and candidates."""
    answered = frame(con, _ANSWERED, [as_of])
    grid = answer_grid(answered, as_of)
    stand = StandingDays(con, BODY, as_of, lambda monday: days_digest(con, "agreed_checkin", "on_date", monday))
    begin_on = stand.begin_on or grid.first_on
    before = Before(**stand.known) if stand.begin_on else Before()
    told, answering = _answers(con, answered, grid, begin_on, before, stand.asked(begin_on))
    scored = problem_scores(form_rows(con, as_of))
    screens = frame(con, _SCREENS, [as_of])
    with transaction(con):
        _replace_history(con, told, stand, as_of)
        replace_table(con, ANSWERING.name, in_contract(answering, ANSWERING))
        replace_table(con, PROBLEM_WEEK.name, in_contract(scored, PROBLEM_WEEK))
        replace_table(con, PROBLEM_CASE.name, in_contract(problem_cases(scored), PROBLEM_CASE))
        replace_table(con, PREVALENCE_WEEK.name, in_contract(_prevalence(con, scored), PREVALENCE_WEEK))
        replace_table(con, PLAYER_SIDE.name, in_contract(player_sides(frame(con, _HANDS)), PLAYER_SIDE))
        replace_table(con, MOBILITY_CHANGE.name, in_contract(mobility_changes(screens), MOBILITY_CHANGE))
        others = pl.concat([_fewer(con, answered, grid, as_of), problem_reports(scored)])
        replace_candidates(con, OTHER_KINDS, others)


def _replace_history(con: duckdb.DuckDBPyConnection, told: AnswerHistory, stand: StandingDays, as_of: date) -> None:
    """Put what is told anew in place of what was told of the same days; days that are no longer shown go."""
    replace_days(con, BODY_DAY.name, "on_date", stand.begin_on, _together(told.days, BODY_DAY))
    drop_days(con, BODY_DAY.name, "on_date", recent(as_of, SHOWN_DAYS))
    replace_days(con, BODY_WEEK.name, "week_starting", stand.begin_on, _together(told.weeks, BODY_WEEK))
    replace_candidates_since(con, RISES, stand.begin_on, _rises(told))
    stand.keep(con, {on: vars(known) for on, known in told.before.items()})


def _rises(told: AnswerHistory) -> pl.DataFrame:
    return pl.concat(told.rises) if told.rises else pl.DataFrame(schema=CANDIDATE_SCHEMA)


def _together(parts: list[pl.DataFrame], table: Table) -> pl.DataFrame:
    return in_contract(pl.concat(parts), table) if parts else pl.DataFrame(schema=table.polars_schema())


def _prevalence(con: duckdb.DuckDBPyConnection, scored: pl.DataFrame) -> pl.DataFrame:
    """Week by week: of everybody, and of those who are in each group on the last day."""
    of_groups = group_members(con).items()
    found = {"": scored} | {name: scored.filter(pl.col("player_id").is_in(players)) for name, players in of_groups}
    return pl.concat(weekly_prevalence(rows).with_columns(group_name=pl.lit(name)) for name, rows in found.items())


def _fewer(con: duckdb.DuckDBPyConnection, checkins: pl.DataFrame, grid: DayGrid, as_of: date) -> pl.DataFrame:
    """Candidates of ``answers_fewer``."""
    practice = frame(con, _SESSIONS, [as_of]).filter(pl.col("kind") != "rest")
    return answer_candidates(days_marked(checkins, grid), days_marked(practice, grid), grid)


def _answers(
    con: duckdb.DuckDBPyConnection, answered: pl.DataFrame, grid: DayGrid, begin_on: date, before: Before, asked: list[date]
) -> tuple[AnswerHistory, pl.DataFrame]:
    """What is told of answers from a day on, see :func:`answer_history`, and whether answers come."""
    if answered.is_empty():
        return AnswerHistory(), pl.DataFrame(schema=ANSWERING.polars_schema())
    read = replace(grid, first_on=max(first_read(begin_on), grid.first_on))
    checkins = frame(con, _CHECKINS_SINCE, [read.first_on, grid.last_on])
    told = answer_history(checkins, read, begin_on, before, asked)
    return told, _answering(answered, grid, told.sleep)


def answers_differing(con: duckdb.DuckDBPyConnection, as_of: date) -> list[str]:
    """Tables of answers whose rows are not what is computed from the first answer on."""
    answered = frame(con, _ANSWERED, [as_of])
    grid = answer_grid(answered, as_of)
    told, _ = _answers(con, answered, grid, grid.first_on, Before(), [])
    found = ((BODY_DAY, _together(told.days, BODY_DAY), ()), (BODY_WEEK, _together(told.weeks, BODY_WEEK), ()),
             (CANDIDATE, _rises(told), RISES))  # fmt: skip
    return [table.name for table, rows, kinds in found if not are_stored(con, table, rows, kinds)]


def _answering(checkins: pl.DataFrame, grid: DayGrid, sleep: Readings | None) -> pl.DataFrame:
    answered, last = days_marked(checkins, grid), grid.n_days - 1
    columns = {"silent_days": silent_days(answered).since(last), "adherence": adherence(answered).since(last)}
    if sleep is not None:
        slept = week_mean(sleep.since(-WEEK_DAYS)).since(-1)
        columns["sleep_week_h"] = type(slept)(-slept.value, slept.known)
    rows = grid.since(last).frame(columns).drop("on_date")
    return rows.join(checkins.group_by("player_id").agg(last_answer_on=pl.col("on_date").max()), on="player_id", how="left")
