"""Rows by unit: a player, a month of a player, a session; what a unit's rows are, digested, and replacing them."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

import polars as pl

from schemas.core.night import SQUAD_ESTIMATE, STAGE_UNIT
from warehouse import migrate
from warehouse.apart import NUMBER, numbered_rows
from warehouse.connection import frame, insert_frame, registered, scalar

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence
    from datetime import date

    import duckdb

    from schemas.tables import Table
    from warehouse.migrate import Script

    Connection = duckdb.DuckDBPyConnection

_DIGEST = "cast(count(*) as varchar) || '-' || cast(sum(cast(hash(source) as hugeint)) as varchar) as digest"


MOST_NAMED = 100
"""Of so many players at most the rows are asked for by name."""

_OF_SESSION = {
    "on_date": "on_date",
    "session_kind": "kind",
    **{name: name for name in ("device_id", "ball", "indoors", "air_temp_c", "air_pressure_hpa", "humidity_pct")},
    **{name: name for name in ("altitude_m", "wind_mps", "wind_from_deg")},
    "month_on": "month_on",
}
"""Columns of views of shots that are one for all shots of a session, and what ``session_day`` calls them."""

OF_SHOTS = frozenset({"own_swing", "normal_swing", "effort_swing", "flown_shot", "driver_ball"})
"""Views that hold nothing but what is said of shots, of their sessions, clubs and trials: told by all of that together."""

_HELD = ", ".join(f'held."{name}"' for name in _OF_SESSION.values() if name != "month_on")
_SESSIONS_TOLD = f"""
    select struck.player_id, session_id, on_date, cast(date_trunc('month', on_date) as date) as month_on,
      cast(hash(n_shots, shots, {_HELD}) as hugeint) as told
    from (
      select session_id, player_id, count(*) as n_shots, sum(cast(hash(told) as hugeint)) as shots
      from (
        select shot.* exclude (file_id, line), club.club_group, coalesce(shot.arm = trial.normal_arm, true) as is_normal
        from shot left join club using (club) left join trial using (trial_id)
      ) as told
      group by session_id, player_id
    ) as struck
    join session_day as held using (session_id)
"""
_KEPT = "session_told"
_TOLD: ContextVar[Connection | None] = ContextVar("sessions told", default=None)


@contextmanager
def sessions_told(con: Connection) -> Iterator[None]:
    """What files say of each session and its shots, made once for all that is read in the block, in which none of it may change.

    Local days of sessions, in a table that stands before the view of that name for all views that read it; and of each session
    a digest of all that is said of it and of its shots.
    """
    con.execute("create temp table session_day as select * from session_day").fetchall()
    token = _TOLD.set(con)
    try:
        con.execute(f"create temp table {_KEPT} as {_SESSIONS_TOLD}").fetchall()
        yield
    finally:
        _TOLD.reset(token)
        con.execute(f"drop table if exists temp.{_KEPT}; drop table if exists temp.session_day").fetchall()


def _told(con: Connection) -> str:
    """What says of each session all that is said of it and its shots: kept where it was made once."""
    return _KEPT if _TOLD.get() is con else f"({_SESSIONS_TOLD})"


def swings_digest(con: Connection, before: date) -> str:
    """A text that changes when anything does that is said of sessions with shots on the days before one."""
    told = "cast(count(*) as varchar) || '-' || cast(sum(told) as varchar)"
    return str(scalar(con, f"select {told} from {_told(con)} where on_date < ?", [before]))


def _session_digests(con: Connection, by: Sequence[str], until: tuple[str, date] | None) -> pl.DataFrame:
    """As :func:`view_digests`, by all that is said of the unit's sessions and their shots."""
    digest = "cast(count(*) as varchar) || '-' || cast(sum(told) as varchar) as digest"
    told = f'where "{until[0]}" <= ?' if until else ""
    query = f"select {_listed(by)}, {digest} from {_told(con)} {told} group by {_listed(by)}"
    return frame(con, query, [until[1]] if until else [])


def _listed(columns: Sequence[str]) -> str:
    return ", ".join(f'"{column}"' for column in columns)


def view_digests(
    con: Connection, view: str, by: Sequence[str], until: tuple[str, date] | None, days: str | None = None
) -> pl.DataFrame:
    """Unit (the columns ``by``) to ``digest``, a text that changes when any of the unit's rows in the view does.

    ``until``: a column of days and the last one that counts; None: all rows count. ``days``: see :func:`_unit`. Of views in
    :data:`OF_SHOTS` units are told by all shots of their sessions, so that some may have no row in the view.
    """
    if view in OF_SHOTS:
        return _session_digests(con, by, until)
    columns = _columns(con, view)
    if {"session_id", "shot_no"} <= set(columns):
        return _shot_digests(con, view, columns, by, until)
    told = f'where "{until[0]}" <= ?' if until else ""
    named = ", ".join(f'{_unit([name], days, "source")} as "{name}"' for name in by)
    query = f'select {named}, {_DIGEST} from (select * from "{view}" {told}) as source group by {_unit(by, days, "source")}'
    return frame(con, query, [until[1]] if until else [])


_COLUMNS: dict[Script, list[str]] = {}


def _columns(con: Connection, view: str) -> list[str]:
    """Columns of a view or a table; of a view that ships they are asked for once in a process."""
    script = next((one for one in migrate.views() if one.name == view), None)
    columns = _COLUMNS.get(script) if script else None
    if columns is None:
        columns = con.sql(f'select * from "{view}" limit 0').columns
        if script:
            _COLUMNS[script] = columns
    return columns


def _shot_digests(
    con: Connection, view: str, columns: Sequence[str], by: Sequence[str], until: tuple[str, date] | None
) -> pl.DataFrame:
    """As :func:`view_digests`, of a view of shots: what a session gives to each of its shots is digested once a session."""
    own = [name for name in columns if name not in {"session_id", "player_id", *_OF_SESSION}]
    given = ", ".join(f'"{_OF_SESSION[name]}" as "{name}"' for name in _OF_SESSION if name in {"on_date", *columns, *by})
    query = f"""
        with struck as (
          select session_id, player_id, count(*) as n_shots, sum(cast(hash({_listed(own)}) as hugeint)) as shots
          from "{view}"
          group by session_id, player_id
        ),
        held as (select *, cast(date_trunc('month', on_date) as date) as month_on from session_day),
        source as (select struck.*, {given} from struck join (select * exclude (player_id) from held) using (session_id))
        select {_listed(by)}, {_DIGEST} from source {f'where "{until[0]}" <= ?' if until else ""} group by {_listed(by)}
    """
    return frame(con, query, [until[1]] if until else [])


def days_digest(con: Connection, view: str, day: str, before: date) -> str:
    """A text that changes when any row of a view on the days before one does."""
    return str(scalar(con, f'select {_DIGEST} from (select * from "{view}" where "{day}" < ?) as source', [before]))


def frame_digests(rows: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """As :func:`view_digests`, of the rows of a frame."""
    sums = (pl.len().cast(pl.String), pl.lit("-"), pl.col(NUMBER).sum().cast(pl.String))
    return numbered_rows(rows, by).group_by(by).agg(pl.concat_str(sums).alias("digest"))


def unit_rows(
    con: Connection,
    view: str,
    units: pl.DataFrame,
    until: tuple[str, date] | None,
    order: Sequence[str],
    days: str | None = None,
    columns: Sequence[str] = (),
) -> pl.DataFrame:
    """The rows of these units (a frame of the columns that name one) in a view, ordered; ``days``: see :func:`_unit`.

    ``columns``: those that are read; without any all are.

    Few players, and the first month, are named beside: the database then leaves out other rows before it joins anything to them.
    Of units that are players, few enough, the names say all.
    """
    where, given = _bounds(view, units, until)
    read = ", ".join(f'"{view}"."{name}"' for name in columns) or f'"{view}".*'
    rows = f'select {read} from "{view}"'
    if units.columns == ["player_id"] and 0 < units["player_id"].n_unique() <= MOST_NAMED:
        return frame(con, f"{rows} {where} order by {_listed(order)}", given)
    alike = " and ".join(f'{_unit([name], days, view)} = asked_unit."{name}"' for name in units.columns)
    with registered(con, "asked_unit", units):
        return frame(con, f"{rows} semi join asked_unit on {alike} {where} order by {_listed(order)}", given)


def _bounds(view: str, units: pl.DataFrame, until: tuple[str, date] | None) -> tuple[str, list[object]]:
    """What rows of these units have in common, for the database to look at first: a clause, and its parameters."""
    clauses, given = list[str](), list[object]()
    if until:
        clauses.append(f'"{view}"."{until[0]}" <= ?')
        given.append(until[1])
    if until and "month_on" in units.columns and not units.is_empty():
        clauses.append(f'"{view}"."{until[0]}" >= ?')
        given.append(units["month_on"].min())
    players = units["player_id"].unique().sort().to_list()
    if 0 < len(players) <= MOST_NAMED:
        clauses.append(f'"{view}".player_id in ({", ".join("?" * len(players))})')
        given += players
    return (f"where {' and '.join(clauses)}", given) if clauses else ("", given)


def shots_of_a_player(con: Connection) -> float:
    """How many shots somebody has struck, of those who have struck any."""
    return float(scalar(con, "select count(*) / nullif(count(distinct player_id), 0) from shot") or 0.0)


def stored_digests(con: Connection, stage: str) -> pl.DataFrame:
    """``unit`` and ``digest`` of all units whose rows of a stage stand."""
    return frame(con, "select unit, digest from stage_unit where stage = ?", [stage])


def stored_estimates(con: Connection, stage: str, made_by: str) -> dict[str, str]:
    """Estimates of the squad by digest of their inputs, where the same program made them in this stage."""
    made = f"{stage}|{made_by}"
    return dict(con.execute("select inputs, found from squad_estimate where made_by = ?", [made]).fetchall())


def replace_estimates(con: Connection, stage: str, made_by: str, gone: Collection[str], new: Mapping[str, str]) -> None:
    """Take some digests out of what is kept of a stage, and put in what is new of it; what another program made goes.

    Call it within a transaction.
    """
    made = f"{stage}|{made_by}"
    con.execute("delete from squad_estimate where not ends_with(made_by, ?)", [f"|{made_by}"]).fetchall()
    con.execute("delete from squad_estimate where made_by = ? and list_contains(?, inputs)", [made, [*gone, *new]]).fetchall()
    rows = pl.DataFrame({"inputs": list(new), "found": list(new.values())}, schema={"inputs": pl.String, "found": pl.String})
    insert_frame(con, SQUAD_ESTIMATE.name, rows.select("inputs", pl.lit(made).alias("made_by"), "found"))


def forget_units(con: Connection) -> None:
    """Let no row of any stage stand, and no estimate: the next night computes them all."""
    con.execute("delete from stage_unit").fetchall()
    con.execute("delete from squad_estimate").fetchall()
    con.execute("delete from trend_state").fetchall()


def forget_units_of(con: Connection, players: list[str]) -> None:
    """Let no row about these players stand: the next night computes them. A unit is named by its player first.

    Stages that pass day by day tell all days of everybody anew, for what they keep is of the squad.
    """
    con.execute("delete from stage_unit where list_contains(?, split_part(unit, '|', 1))", [players]).fetchall()
    con.execute("delete from squad_estimate").fetchall()


def insert_digests(con: Connection, stage: str, digests: pl.DataFrame) -> None:
    """Note from what the rows of some units (``unit``, ``digest``) were computed; call it with the rows, within a transaction."""
    insert_frame(con, STAGE_UNIT.name, digests.select(pl.lit(stage).alias("stage"), "unit", "digest"))


def drop_other_states(con: Connection, table: str, months: pl.DataFrame) -> None:
    """Take out of a table of states those that rest on none of these months (``player_id``, ``month_on``, ``digest``)."""
    with registered(con, "known_month", months):
        con.execute(
            f'delete from "{table}" where (player_id, month_on, digest) not in '
            "(select (player_id, month_on, digest) from known_month)"
        ).fetchall()


def replace_states(con: Connection, table: Table, rows: pl.DataFrame) -> None:
    """Put states in place of those of the same series; call it with the rows, within a transaction."""
    named = _listed(table.grain)
    with registered(con, "newer_state", rows.select(table.grain)):
        con.execute(f'delete from "{table.name}" where ({named}) in (select ({named}) from newer_state)').fetchall()
    insert_frame(con, table.name, rows)


def drop_other_units(con: Connection, stage: str, units: pl.DataFrame) -> None:
    """Forget units of a stage that are none of these (``unit``)."""
    if units.is_empty():
        con.execute("delete from stage_unit where stage = ?", [stage]).fetchall()
        return
    with registered(con, "known_unit", units):
        con.execute("delete from stage_unit where stage = ? and unit not in (select unit from known_unit)", [stage]).fetchall()


def drop_other_rows(con: Connection, table: str, units: pl.DataFrame, kinds: Sequence[str] = (), days: str | None = None) -> None:
    """Take out the rows of a table that belong to none of these units."""
    of_kinds, given = ("list_contains(?, kind)", [list(kinds)]) if kinds else ("true", [])
    if units.is_empty():
        con.execute(f'delete from "{table}" where {of_kinds}', given).fetchall()
        return
    with registered(con, "named_unit", units):
        con.execute(
            f'delete from "{table}" where ({_unit(units.columns, days, table)}) not in '
            f"(select ({_listed(units.columns)}) from named_unit) and {of_kinds}",
            given,
        ).fetchall()


def _unit(columns: Sequence[str], days: str | None, table: str) -> str:
    """The columns that name a unit; where the table has no ``month_on``, it is the month of a column of days."""
    month = f'cast(date_trunc(\'month\', "{table}"."{days}") as date)'
    return ", ".join(month if days and column == "month_on" else f'"{table}"."{column}"' for column in columns)
