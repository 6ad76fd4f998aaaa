"""Body: answers, weekly forms, absences and screens in, of players who agreed; ``body_*``, ``problem_*`` and candidates out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.body.answering import adherence, silent_days, week_mean
from pipelines.measures.body.items import ITEMS, REGION_ITEMS, STATE_ITEMS, body_items
from pipelines.measures.body.map import body_days, body_weeks
from pipelines.measures.body.side import player_sides
from pipelines.measures.flags.answer_rules import answer_candidates
from pipelines.measures.flags.body_rules import body_rises
from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA
from pipelines.measures.flags.pattern_rules import problem_reports
from pipelines.measures.load.grid import day_grid, days_marked
from pipelines.measures.load.windows import days_known
from pipelines.measures.mobility.change import mobility_changes
from pipelines.measures.problems.cases import problem_cases
from pipelines.measures.problems.prevalence import weekly_prevalence
from pipelines.measures.problems.score import problem_scores
from pipelines.stages.measure.groups import group_members
from pipelines.stages.measure.load import in_contract
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
from warehouse.connection import frame, replace_table, transaction
from warehouse.flags import replace_candidates

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from pipelines.measures.body.items import BodyItem
    from pipelines.measures.load.grid import Counts, DayGrid, Floats
    from schemas.academy import Academy

KINDS = ("body_stiff", "body_fatigue", "answers_fewer", "problem_report")
SHOWN_DAYS = 84

_CHECKINS = f"select player_id, on_date, {', '.join(ITEMS)} from agreed_checkin where on_date <= ? order by player_id, on_date"
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


def form_rows(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """Weekly forms up to ``as_of``, of players who agreed."""
    return frame(con, _FORMS, [as_of])


def answer_grid(checkins: pl.DataFrame, as_of: date) -> DayGrid:
    """The grid of those who answered, from the first answer on."""
    return day_grid(checkins["player_id"], checkins["on_date"].min() or as_of, as_of)  # type: ignore[arg-type] # a date column


def measure_body(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:  # noqa: ARG001 - alike for all
    """Write answers against the own normal, the body map, weekly forms, cases, prevalence, screens, and candidates."""
    checkins = checkin_rows(con, as_of)
    grid = answer_grid(checkins, as_of)
    days, weeks, rises, answering = _answers(checkins, grid)
    scored = problem_scores(form_rows(con, as_of))
    screens = frame(con, _SCREENS, [as_of])
    with transaction(con):
        replace_table(con, BODY_DAY.name, in_contract(days, BODY_DAY))
        replace_table(con, BODY_WEEK.name, in_contract(weeks, BODY_WEEK))
        replace_table(con, ANSWERING.name, in_contract(answering, ANSWERING))
        replace_table(con, PROBLEM_WEEK.name, in_contract(scored, PROBLEM_WEEK))
        replace_table(con, PROBLEM_CASE.name, in_contract(problem_cases(scored), PROBLEM_CASE))
        replace_table(con, PREVALENCE_WEEK.name, in_contract(_prevalence(con, scored), PREVALENCE_WEEK))
        replace_table(con, PLAYER_SIDE.name, in_contract(player_sides(frame(con, _HANDS)), PLAYER_SIDE))
        replace_table(con, MOBILITY_CHANGE.name, in_contract(mobility_changes(screens), MOBILITY_CHANGE))
        replace_candidates(con, KINDS, pl.concat([rises, _fewer(con, checkins, grid, as_of), problem_reports(scored)]))


def _prevalence(con: duckdb.DuckDBPyConnection, scored: pl.DataFrame) -> pl.DataFrame:
    """Week by week: of everybody, and of those who are in each group on the last day."""
    of_groups = group_members(con).items()
    found = {"": scored} | {name: scored.filter(pl.col("player_id").is_in(players)) for name, players in of_groups}
    return pl.concat(weekly_prevalence(rows).with_columns(group_name=pl.lit(name)) for name, rows in found.items())


def _fewer(con: duckdb.DuckDBPyConnection, checkins: pl.DataFrame, grid: DayGrid, as_of: date) -> pl.DataFrame:
    """Candidates of ``answers_fewer``."""
    practice = frame(con, _SESSIONS, [as_of]).filter(pl.col("kind") != "rest")
    return answer_candidates(days_marked(checkins, grid), days_marked(practice, grid), grid)


def _answers(checkins: pl.DataFrame, grid: DayGrid) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    if checkins.is_empty():
        empty = [pl.DataFrame(schema=table.polars_schema()) for table in (BODY_DAY, BODY_WEEK, ANSWERING)]
        return empty[0], empty[1], pl.DataFrame(schema=CANDIDATE_SCHEMA), empty[2]
    n_items, n_players = _answered_items(checkins, grid)
    days, weeks, rises = [], [], []
    sleep = None
    for item in body_items(checkins, grid, _answered_names(checkins)):
        days.append(body_days(item, grid, grid.n_days - SHOWN_DAYS))
        weeks.append(body_weeks(item, grid))
        rises.append(body_rises(item, grid, n_items[bool(item.region)], n_players))
        sleep = item if item.name == "sleep_h" else sleep
    return pl.concat(days), pl.concat(weeks), pl.concat(rises), _answering(checkins, grid, sleep)


def _answered_names(checkins: pl.DataFrame) -> tuple[str, ...]:
    """Items that anybody ever answered: of others nothing is found. Sleep stands among them, for a column is made of it."""
    return tuple(name for name in ITEMS if name == "sleep_h" or checkins[name].null_count() < checkins.height)


def _answered_items(checkins: pl.DataFrame, grid: DayGrid) -> tuple[dict[bool, Floats], Counts]:
    """Items answered each night, of states and of regions, and players with an answer in the last 7 days."""
    counted = checkins.select(
        "player_id",
        "on_date",
        states=pl.sum_horizontal(pl.col(name).is_not_null() for name in STATE_ITEMS),
        regions=pl.sum_horizontal(pl.col(name).is_not_null() for name in REGION_ITEMS),
    )
    spread = grid.spread(counted, ("states", "regions"))
    n_players: Counts = np.count_nonzero(days_known(spread["states"].known, 7) > 0, axis=0)
    return {False: np.maximum(spread["states"].value, 1), True: np.maximum(spread["regions"].value, 1)}, n_players


def _answering(checkins: pl.DataFrame, grid: DayGrid, sleep: BodyItem | None) -> pl.DataFrame:
    answered = days_marked(checkins, grid)
    last_day = np.zeros(grid.shape, dtype=np.bool_)
    last_day[:, -1] = True
    columns = {"silent_days": silent_days(answered), "adherence": adherence(answered)}
    if sleep is not None:
        slept = week_mean(sleep.answers)
        columns["sleep_week_h"] = type(slept)(-slept.value, slept.known)
    rows = grid.frame(columns, keep=last_day).drop("on_date")
    return rows.join(checkins.group_by("player_id").agg(last_answer_on=pl.col("on_date").max()), on="player_id", how="left")
