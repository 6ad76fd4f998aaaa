"""Candidates, flags and their events: writing them, and reading them as they stand or stood."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.core.flags import CANDIDATE, EVENT, FLAG
from schemas.errors import NotFoundError
from warehouse.connection import frame, insert_frame, replace_table

if TYPE_CHECKING:
    import duckdb


def replace_candidates(con: duckdb.DuckDBPyConnection, kinds: tuple[str, ...], rows: pl.DataFrame) -> int:
    """Put the candidates of some kinds in place of those that were there; call it within a transaction.

    ``rows`` has the columns of ``flag_candidate`` (:func:`pipelines.measures.flags.candidates.candidates` makes them).
    """
    con.execute("delete from flag_candidate where list_contains(?, kind)", [list(kinds)]).fetchall()
    return insert_frame(con, CANDIDATE.name, rows.select(CANDIDATE.names))


def all_candidate_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every candidate of every kind, by night, player and stream."""
    return frame(con, "select * from flag_candidate order by on_date, player_id, kind, metric, region, club_group, device_id")


def replace_flags(con: duckdb.DuckDBPyConnection, flags: pl.DataFrame, events: pl.DataFrame) -> None:
    """Put flags and events in place of those that were there; call it within a transaction."""
    replace_table(con, FLAG.name, flags.select(FLAG.names))
    replace_table(con, EVENT.name, events.select(EVENT.names))


def flag_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every flag, by raised_on and id."""
    return frame(con, "select * from flag order by raised_on, flag_id")


def event_rows(con: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Every event, by night and in the order in which it happened."""
    order = "case event when 'raised' then 0 when 'alerted' then 1 when 'held' then 2 else 3 end"
    return frame(con, f"select * from flag_event order by on_date, flag_id, {order}")


def flag_row(con: duckdb.DuckDBPyConnection, flag_id: str) -> dict[str, Any]:
    """One flag.

    Raises
    ------
    NotFoundError
        When there is none of that id.
    """
    rows = frame(con, "select * from flag where flag_id = ?", [flag_id])
    if rows.is_empty():
        raise NotFoundError(f"There is no flag {flag_id}.", "`speedworth flags --all` lists them.")
    return rows.row(0, named=True)


def events_of_flag(con: duckdb.DuckDBPyConnection, flag_id: str) -> pl.DataFrame:
    """What happened to one flag, in order."""
    return event_rows(con).filter(pl.col("flag_id") == flag_id)


_ORIGIN = """
select
  'session' as what, session_day.session_id as source, session_day.on_date, session_day.kind as detail,
  session_day.device_id, file.name as file_name, session_day.file_id, session_day.line as first_line,
  session_day.line as last_line, 1 as n_rows
from session_day
left join file using (file_id)
where list_contains($ids, session_day.session_id)
union all
select
  'shots', shot_day.session_id, shot_day.on_date, shot_day.club, shot_day.device_id, file.name, shot_day.file_id,
  min(shot_day.line), max(shot_day.line), count(*)
from shot_day
left join file using (file_id)
where list_contains($ids, shot_day.session_id)
  and ($club_group = '' or shot_day.club_group = $club_group)
group by shot_day.session_id, shot_day.on_date, shot_day.club, shot_day.device_id, file.name, shot_day.file_id
union all
select
  'checkin', 'checkin:' || checkin.date, checkin.date, 'answers', null, file.name, checkin.file_id, checkin.line, checkin.line, 1
from checkin
left join file using (file_id)
where checkin.player_id = $player_id and list_contains($ids, 'checkin:' || checkin.date)
union all
select
  'plan', 'plan:' || plan.week_starting, plan.week_starting, coalesce(plan.phase, ''), null, file.name, plan.file_id,
  plan.line, plan.line, 1
from plan
left join file using (file_id)
where plan.player_id = $player_id and list_contains($ids, 'plan:' || plan.week_starting)
union all
select
  'problem', 'problem:' || problem_report.week_ending, problem_report.week_ending, problem_report.region, null, file.name,
  problem_report.file_id, problem_report.line, problem_report.line, 1
from problem_report
left join file using (file_id)
where problem_report.player_id = $player_id and list_contains($ids, 'problem:' || problem_report.week_ending)
order by 3, 1, 2, 8
"""


def origins(con: duckdb.DuckDBPyConnection, flag: dict[str, Any]) -> pl.DataFrame:
    """Files and lines from which a flag's evidence was read: one row per source, file and club."""
    rows = con.execute(
        _ORIGIN, {"ids": list(flag["sources"]), "player_id": flag["player_id"], "club_group": flag["club_group"]}
    ).fetchall()
    schema = {
        "what": pl.String, "source": pl.String, "on_date": pl.Date, "detail": pl.String, "device_id": pl.String,
        "file_name": pl.String, "file_id": pl.String, "first_line": pl.Int64, "last_line": pl.Int64, "n_rows": pl.Int64,
    }  # fmt: skip
    return pl.DataFrame(rows, schema=schema, orient="row")
