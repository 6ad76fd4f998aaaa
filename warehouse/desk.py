"""What the desk's forms ask about: who is there, what was answered lately, and which sessions lack an effort."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from warehouse.connection import frame

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl


def player_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every player, with all columns of a players file."""
    return frame(con, "select * exclude (file_id, line) from player order by player_id")


def group_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """player_id, group_name: who is in which group now."""
    return frame(con, "select player_id, group_name from group_member order by player_id, group_name")


def answer_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every check-in."""
    return frame(con, "select * from checkin order by player_id, date")


def answered_days(con: duckdb.DuckDBPyConnection, today: date, n_days: int) -> pl.DataFrame:
    """player_id, date: check-ins of the last days."""
    return frame(
        con, "select player_id, date from checkin where date > ? order by player_id, date", [today - timedelta(days=n_days)]
    )


def form_weeks(con: duckdb.DuckDBPyConnection, today: date, n_days: int) -> pl.DataFrame:
    """player_id, week_ending: weekly problem forms of the last days."""
    since = today - timedelta(days=n_days)
    query = "select distinct player_id, week_ending from problem_report where week_ending > ? order by player_id, week_ending"
    return frame(con, query, [since])


def rest_days(con: duckdb.DuckDBPyConnection, today: date, n_days: int) -> pl.DataFrame:
    """player_id, on_date: days of rest."""
    since = today - timedelta(days=n_days)
    query = "select player_id, on_date from session_day where kind = 'rest' and on_date > ? order by player_id, on_date"
    return frame(con, query, [since])


def round_days(con: duckdb.DuckDBPyConnection, today: date, n_days: int) -> pl.DataFrame:
    """player_id, played_on: rounds."""
    since = today - timedelta(days=n_days)
    return frame(con, "select player_id, played_on from round where played_on > ? order by player_id, played_on", [since])


def sessions_without_effort(con: duckdb.DuckDBPyConnection, today: date, n_days: int) -> pl.DataFrame:
    """Sessions of the last days that were work and have no effort yet, with all columns of a sessions file."""
    since = today - timedelta(days=n_days)
    query = """
    select * from session_day where kind <> 'rest' and effort is null and on_date > ? order by player_id, started_at, session_id
    """
    return frame(con, query, [since])


def trial_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every declared trial, the newest first."""
    query = """
    select trial_id, trial.player_id, alias, question, normal_arm, arms, began_on, sheet, ended_on, end_rule
    from trial
    left join player using (player_id)
    order by began_on desc, trial_id
    """
    return frame(con, query)


def plan_rows(con: duckdb.DuckDBPyConnection, today: date) -> pl.DataFrame:
    """Plans of players and groups of this week and all later ones."""
    query = """
    select player_id, group_name, week_starting, phase, swings_full, swings_speed, cast(minutes as bigint) as minutes
    from plan
    where week_starting > ?
    order by week_starting, player_id, group_name
    """
    return frame(con, query, [today - timedelta(days=7)])


def file_rows(con: duckdb.DuckDBPyConnection, today: date, n_days: int) -> pl.DataFrame:
    """Files of the last days and all that are held, the newest first; of many the held ones, then the newest."""
    query = """
    select file_id, mart_file.name, mart_file.kind, coalesce(mart_file.mapping, '') as mapping, mart_file.received_at,
      mart_file.modified_at, mart_file.status, reason, mart_file.n_rows, mart_file.n_loaded, mart_file.n_quarantined,
      mart_file.n_warnings, n_open, file.kept_as, file.redacted
    from mart_file join file using (file_id)
    where mart_file.received_at > ? or mart_file.status = 'held'
    qualify row_number() over (order by mart_file.status = 'held' desc, mart_file.received_at desc, mart_file.name) <= 200
    order by mart_file.received_at desc, mart_file.name
    """
    return frame(con, query, [today - timedelta(days=n_days)])


def last_heard(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Each player who has not left, with the days of the last session and the last check-in."""
    query = """
    select player.player_id, player.alias, max(session_day.on_date) as last_session_on,
      (select max(date) from checkin where checkin.player_id = player.player_id) as last_answer_on
    from player
    left join session_day using (player_id)
    where player.left_on is null
    group by player.player_id, player.alias
    order by player.alias, player.player_id
    """
    return frame(con, query)
