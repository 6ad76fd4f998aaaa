"""Deliveries that are to be read again or taken back: by what changed since, by what they had replaced, by what they rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.core.files import FILE
from schemas.files import KINDS, FileKind
from warehouse.connection import frame, insert_frame, registered
from warehouse.keys import row_key

if TYPE_CHECKING:
    import duckdb

    Connection = duckdb.DuckDBPyConnection

_NAMES = ("file_id", "name", "kind", "mapping", "modified_at", "received_at", "kept_as", "status", "redacted", "reading")
_COLUMNS = """
  file_id, name, coalesce(kind, '') as kind, coalesce(mapping, '') as mapping, modified_at, received_at, kept_as, status,
  redacted, reading
"""


def deliveries(con: Connection) -> pl.DataFrame:
    """The ledger by name and age.

    Returns
    -------
    polars.DataFrame
        ``file_id``, ``name``, ``kind``, ``mapping``, ``modified_at``, ``received_at``, ``kept_as``, ``status``, ``redacted``,
        ``reading``.
    """
    return frame(con, f"select {_COLUMNS} from file order by name, modified_at, file_id")


def delivered_kinds(con: Connection) -> set[str]:
    """Names of the kinds of which a file ever came."""
    return {str(kind) for (kind,) in con.execute("select distinct kind from file").fetchall()}


def deliveries_to_look_at_again(con: Connection, kind: FileKind) -> pl.DataFrame:
    """Files of this kind with rows that named something unknown which has arrived since, by version; columns as above.

    A name that is looked up has arrived when one player is called so. Of rows about the body nothing was kept: such a file has to
    be dropped again.
    """
    if kind.body or not _has_rows(con, _WAITING):
        return _nothing()
    return _by_version(
        con,
        """
        with called as (
          select lower(regexp_replace(trim(alias), '\\s+', ' ', 'g')) as name from player group by all having count(*) = 1
        )
        select problem.file_id from problem join player on player.player_id = problem.value
        where problem.rule = 'unknown_player' and not problem.closed
        union
        select problem.file_id from problem join session on session.session_id = problem.value
        where problem.rule = 'unknown_session' and not problem.closed
        union
        select problem.file_id
        from problem join called on called.name = lower(regexp_replace(trim(problem.value), '\\s+', ' ', 'g'))
        where problem.rule in ('unknown_player', 'unsafe_id') and not problem.closed and starts_with(problem.hint, 'Write "')
        """,
        kind,
    )


def displaced_deliveries(con: Connection, kind: FileKind) -> pl.DataFrame:
    """Files of this kind with rows that a file replaced which stands no more."""
    if not _has_rows(con, "superseded_row"):
        return _nothing()
    return _by_version(
        con,
        """
        with lost as (
          select gone.file_id, gone.kind, gone.part from superseded_row as gone
          anti join file as newer on newer.file_id = gone.superseded_by and newer.status in ('loaded', 'superseded')
          where gone.superseded_by <> gone.file_id
        )
        select file_id from lost
        union
        select older.file_id from superseded_row as older semi join lost using (kind, part)
        where older.superseded_by <> older.file_id
        """
        if kind.fills
        else """
        select gone.file_id from superseded_row as gone
        anti join file as newer on newer.file_id = gone.superseded_by and newer.status in ('loaded', 'superseded')
        where gone.superseded_by <> gone.file_id
        """,
        kind,
    )


def unfounded_deliveries(con: Connection, kind: FileKind) -> pl.DataFrame:
    """Files of this kind with rows of a session that is gone, or that has become another player's."""
    if not any(reference.kind == "sessions" for reference in kind.references):
        return _nothing()
    return _by_version(
        con,
        f'select file_id from "{kind.table}" as own anti join session '
        "on session.session_id = own.session_id and session.player_id = own.player_id",
        kind,
    )


_WAITING = "problem where rule in ('unknown_player', 'unknown_session', 'unsafe_id') and not closed"


def _has_rows(con: Connection, what: str) -> bool:
    """Whether there is a row: asked before a longer question, for mostly there is none."""
    return bool(con.execute(f"select 1 from {what} limit 1").fetchall())


def _nothing() -> pl.DataFrame:
    columns = FILE.polars_schema()
    return pl.DataFrame(schema={name: columns[name] for name in _NAMES})


def _by_version(con: Connection, wanted: str, kind: FileKind) -> pl.DataFrame:
    return frame(
        con,
        f"""
        select {_COLUMNS} from file
        where file_id in ({wanted}) and kind = ? and kept_as <> '' and status <> 'withdrawn'
        order by modified_at, name, file_id
        """,
        [kind.name],
    )


def note_readings(con: Connection, readings: pl.DataFrame) -> None:
    """Note with what files were read that do not say it yet: ``mapping``, ``reading``."""
    with registered(con, "known_readings", readings):
        con.execute(
            """
            update file set reading = known_readings.reading from known_readings
            where file.reading is null and coalesce(file.mapping, '') = known_readings.mapping
            """
        ).fetchall()


def players_named_elsewhere(con: Connection, file_id: str) -> list[str]:
    """Players of a file that rows of other files name, and of whom no other players file that stands says anything."""
    tables = [kind.table for kind in KINDS.values() if kind.name != "players" and "player_id" in kind.names]
    named = " union ".join(f'select player_id from "{table}"' for table in tables)
    rows = con.execute(
        f"""
        select distinct player_id from player
        where file_id = ? and player_id in ({named}) and player_id not in (
          select gone.part from superseded_row as gone join file as older on older.file_id = gone.file_id
          where gone.kind = 'players' and gone.superseded_by = ? and older.status in ('loaded', 'superseded')
        )
        order by player_id
        """,
        [file_id, file_id],
    ).fetchall()
    return [player_id for (player_id,) in rows]


def redacted_deliveries_replaced_by(con: Connection, file_id: str) -> list[str]:
    """Names of files that this one replaced in part and of which not all rows were kept."""
    rows = con.execute(
        """
        select distinct file.name from superseded_row join file using (file_id)
        where superseded_row.superseded_by = ? and file.redacted order by file.name
        """,
        [file_id],
    ).fetchall()
    return [name for (name,) in rows]


def has_been_taken_over(con: Connection, kind: FileKind, file_id: str) -> bool:
    """Whether a newer file has taken over something of this one."""
    found = con.execute(
        "select 1 from superseded_row where file_id = ? and kind = ? and superseded_by <> file_id limit 1", [file_id, kind.name]
    ).fetchall()
    return bool(kind.fills) and bool(found)


def withdraw_delivery(con: Connection, kind: FileKind, file_id: str) -> int:
    """Take a file's rows out, as replaced by nothing; returns how many. Call it within a transaction.

    The keys of its rows stay, so that the file is found when a player is forgotten.
    """
    n = 0
    for each in {kind.name, "sessions"}:
        rows = _claims(con, KINDS[each], file_id)
        n += rows.height
        con.execute(f'delete from "{KINDS[each].table}" where file_id = ?', [file_id]).fetchall()
        insert_frame(con, "superseded_row", rows)
    con.execute("update superseded_row set superseded_by = file_id where file_id = ?", [file_id]).fetchall()
    con.execute("delete from consent where file_id = ?", [file_id]).fetchall()
    con.execute("update problem set closed = true where file_id = ?", [file_id]).fetchall()
    con.execute("update file set status = 'withdrawn', superseded_by = null where file_id = ?", [file_id]).fetchall()
    return n


def _claims(con: Connection, kind: FileKind, file_id: str) -> pl.DataFrame:
    live = frame(con, f'select * from "{kind.table}" where file_id = ? order by line', [file_id])
    return live.select(
        pl.lit(kind.name).alias("kind"),
        "file_id",
        "line",
        row_key(kind.replaces).alias("part"),
        row_key(kind.overlaps_on or kind.key).alias("row_key"),
        pl.lit(file_id).alias("superseded_by"),
    )


def overlaps(con: Connection, file_ids: list[str]) -> pl.DataFrame:
    """What these files share with others: ``file_id``, ``n`` rows, ``other`` (the file's name), ``is_newer`` (the other is)."""
    if not _has_rows(con, "superseded_row"):
        return pl.DataFrame(schema={"file_id": pl.String, "n": pl.Int64, "other": pl.String, "is_newer": pl.Boolean})
    with registered(con, "asked", pl.DataFrame({"file_id": pl.Series(file_ids, dtype=pl.String).unique()})):
        return frame(
            con,
            """
            with met as (
              select gone.superseded_by as file_id, gone.file_id as other_id, gone.row_key, false as is_newer
              from superseded_row as gone semi join asked on asked.file_id = gone.superseded_by
              union all
              select gone.file_id, gone.superseded_by, gone.row_key, true
              from superseded_row as gone semi join asked on asked.file_id = gone.file_id
            )
            select met.file_id, count(distinct row_key)::bigint as n,
              max_by(other.name, (other.received_at, other.modified_at, other.name)) as other, is_newer
            from met join file as other on other.file_id = other_id
            where met.file_id <> other_id
            group by met.file_id, is_newer
            order by met.file_id, is_newer
            """,
        )
