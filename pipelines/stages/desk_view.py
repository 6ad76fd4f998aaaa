"""The few rows that the desk's forms show, written by every intake and every night into one small file.

The desk never waits for the warehouse: while a night holds it, the desk goes on showing what the last one left here.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.files import KINDS
from schemas.regions import REGIONS
from warehouse.desk import (
    answer_rows,
    answered_days,
    file_rows,
    form_weeks,
    group_rows,
    last_heard,
    plan_rows,
    player_rows,
    rest_days,
    round_days,
    sessions_without_effort,
    trial_rows,
)
from warehouse.marts import Marts

if TYPE_CHECKING:
    from datetime import date, datetime

    import duckdb

    from pipelines.workspace import Workspace

VIEW, KEYS, SHEETS = "view.json", "keys.sqlite", "sheets"
TRAYS = ("dropped", "undone")
"""Folders of files that were dropped and not accepted, or taken back."""
DROPS_KEPT = timedelta(hours=24)
"""How long a drop that nobody accepts is kept, since it was last changed."""
DAYS = 8
"""How far back forms may speak of [days]."""

RATINGS = ("fatigue", "soreness", "stress", "sleep_trouble", "sleep_h")
_LAST_ANSWERS = 28
_USUAL_SHARE = 0.2


def usual_items(answers: pl.DataFrame) -> dict[str, list[str]]:
    """By player, the items of the check-in that at least one in five of the last 28 answers filled in.

    Parameters
    ----------
    answers : polars.DataFrame
        Rows of ``checkin``: player_id, date and one column per item.
    """
    items = [*RATINGS, *(f"stiff_{region}" for region in REGIONS)]
    last = answers.sort("date").group_by("player_id", maintain_order=True).tail(_LAST_ANSWERS)
    shares = last.group_by("player_id").agg(pl.col(items).is_not_null().mean()).sort("player_id")
    return {
        row["player_id"]: [item for item in items if (row[item] or 0.0) >= _USUAL_SHARE] for row in shares.iter_rows(named=True)
    }


_MOST_FELT = 4


def felt_regions(answers: pl.DataFrame) -> dict[str, list[str]]:
    """By player, the regions rated above zero in the last 28 answers, the most told of first, at most four."""
    columns = [f"stiff_{region}" for region in REGIONS]
    last = answers.sort("date").group_by("player_id", maintain_order=True).tail(_LAST_ANSWERS)
    sums = last.group_by("player_id").agg(pl.col(columns).sum()).sort("player_id")
    found = {}
    for row in sums.iter_rows(named=True):
        told = sorted((region for region in REGIONS if row[f"stiff_{region}"]), key=lambda region: -row[f"stiff_{region}"])
        found[row["player_id"]] = told[:_MOST_FELT]
    return found


def _plain(rows: pl.DataFrame) -> list[dict[str, Any]]:
    """Rows as JSON holds them: days and instants (UTC) as text."""
    instants = pl.selectors.datetime()
    return rows.with_columns(instants.dt.strftime("%Y-%m-%dT%H:%M:%SZ"), pl.selectors.date().dt.to_string("iso")).to_dicts()


def _by_player(rows: pl.DataFrame, column: str) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for row in _plain(rows):
        found.setdefault(row["player_id"], []).append(row[column])
    return found


def desk_view(con: duckdb.DuckDBPyConnection, today: date, now: datetime) -> dict[str, Any]:
    """What the forms show, as JSON holds it."""
    answers = answer_rows(con)
    return {
        "written_at": now.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "players": {row["player_id"]: row for row in _plain(player_rows(con))},
        "groups": _by_player(group_rows(con), "group_name"),
        "usual": usual_items(answers),
        "felt": felt_regions(answers),
        "answered": _by_player(answered_days(con, today, DAYS), "date"),
        "form_weeks": _by_player(form_weeks(con, today, 5 * DAYS), "week_ending"),
        "rested": _by_player(rest_days(con, today, DAYS), "on_date"),
        "played": _by_player(round_days(con, today, DAYS), "played_on"),
        "without_effort": _plain(sessions_without_effort(con, today, DAYS).select(KINDS["sessions"].names)),
        "flags": {role: _plain(_open_flags(con, role)) for role in ("coach", "physio")},
        "trials": _plain(trial_rows(con)),
        "plans": _plain(plan_rows(con, today)),
        "absences": _plain(Marts(con, "physio").rows("mart_physio_absence").sort("began_on", "player_id", "kind")),
        "files": _plain(file_rows(con, today, 4 * DAYS)),
        "heard": _plain(last_heard(con)),
    }


def _open_flags(con: duckdb.DuckDBPyConnection, role: Any) -> pl.DataFrame:
    rows = Marts(con, role).rows(f"mart_flag_{role}").filter(pl.col("closed_on").is_null(), pl.col("player_id") != "")
    return rows.sort(pl.col("level") != "alert", -pl.col("strength"), "flag_id")


def write_desk_view(con: duckdb.DuckDBPyConnection, workspace: Workspace, today: date, now: datetime) -> None:
    """Write the rows, whole or not at all; drops that are too old are forgotten on the way."""
    forget_old_drops(workspace, now)
    workspace.desk.mkdir(mode=0o700, exist_ok=True)
    path = workspace.desk / VIEW
    part = path.with_name(f".{VIEW}.part")
    part.write_text(json.dumps(desk_view(con, today, now), separators=(",", ":")), encoding="utf-8")
    part.replace(path)


def forget_old_drops(workspace: Workspace, now: datetime) -> None:
    """Take away what was dropped and neither accepted nor taken back within a day."""
    oldest = (now - DROPS_KEPT).timestamp()
    for folder in (workspace.desk / TRAYS[0]).glob("*"):
        if folder.is_dir() and folder.stat().st_mtime < oldest:
            shutil.rmtree(folder, ignore_errors=True)


def forget_at_desk(workspace: Workspace, player_id: str) -> None:
    """Take a player out of what the desk keeps: links, visits, notes on shot sheets, what was handed in, what forms show.

    The next night writes the view anew.
    """
    (workspace.desk / VIEW).unlink(missing_ok=True)
    shutil.rmtree(workspace.desk / SHEETS / player_id, ignore_errors=True)
    keys = workspace.desk / KEYS
    if not keys.exists():
        return
    with closing(sqlite3.connect(keys, timeout=10)) as con, con:
        if not has_tables(con):
            return
        con.execute("pragma secure_delete = on")
        for table, column in (("personal_link", "player_id"), ("hand_in", "subject"), ("session", "subject")):
            con.execute(f"delete from {table} where {column} = ?", (player_id,))


def limited_groups(workspace: Workspace) -> tuple[tuple[str, ...], ...]:
    """The groups that coaches' keys are limited to, each set once: for each of them the night writes a room."""
    keys = workspace.desk / KEYS
    if not keys.exists():
        return ()
    with closing(sqlite3.connect(keys, timeout=10)) as con:
        if "groups" not in {row[1] for row in con.execute("pragma table_info(staff_key)")}:
            return ()
        rows = con.execute("select groups from staff_key order by groups").fetchall()
    return tuple(tuple(json.loads(groups)) for groups in dict.fromkeys(groups for (groups,) in rows if groups))


def has_tables(con: sqlite3.Connection) -> bool:
    """Whether the file of keys was made whole: a disk that was full then leaves it empty."""
    return con.execute("pragma table_info(hand_in)").fetchone() is not None
