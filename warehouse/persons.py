"""Everything that the warehouse holds about one player: finding it, and taking it out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.core import core_tables
from schemas.errors import NotFoundError
from schemas.files import KINDS
from warehouse.connection import frame, registered, scalar

if TYPE_CHECKING:
    import duckdb

    from schemas.tables import Table

    Connection = duckdb.DuckDBPyConnection

_OWNERS = {
    "player_id": "select ? as player_id",
    "flag_id": "select flag_id from flag where player_id = ?",
    "session_id": "select session_id from session where player_id = ?",
    "trial_id": "select trial_id from trial where player_id = ?",
}
"""By which column a row belongs to a player; the first that a table has decides."""


def require_player(con: Connection, player_id: str) -> None:
    """Refuse an id that no player has.

    Raises
    ------
    NotFoundError
        When there is no such player.
    """
    if not scalar(con, "select count(*) from player where player_id = ?", [player_id]):
        raise NotFoundError(f"There is no player {player_id!r}.", "The Squad page and the players files list the ids.")


def _owner(table: Table) -> str:
    return next((column for column in _OWNERS if column in table.names), "")


def personal_tables() -> dict[str, Table]:
    """Tables whose rows belong to players, by name."""
    return {name: table for name, table in sorted(core_tables().items()) if _owner(table)}


def _theirs(table: Table) -> str:
    column = _owner(table)
    return f'"{column}" in ({_OWNERS[column]})'


def rows_of_player(con: Connection, player_id: str) -> dict[str, pl.DataFrame]:
    """Every row about a player, by table; tables without one are left out."""
    found = {}
    for name, table in personal_tables().items():
        order = ", ".join(f'"{column}"' for column in table.grain)
        rows = frame(con, f'select * from "{name}" where {_theirs(table)} order by {order}', [player_id])
        if not rows.is_empty():
            found[name] = rows
    return found


def files_naming(con: Connection, player_id: str) -> pl.DataFrame:
    """Ledger rows of files with a row of the player, live, replaced or refused.

    Returns
    -------
    polars.DataFrame
        ``file_id``, ``name``, ``kind``, ``mapping``, ``kept_as``, ``status``, by file_id.
    """
    lines = _lines(con, player_id)
    with registered(con, "named", lines.select("file_id").unique()):
        return frame(
            con,
            "select file_id, name, coalesce(kind, '') as kind, coalesce(mapping, '') as mapping, kept_as, status "
            "from file semi join named using (file_id) order by file_id",
        )


def lines_of_player(con: Connection, player_id: str) -> dict[str, list[int]]:
    """File to the lines that are about the player, as far as they were read."""
    lines = _lines(con, player_id).drop_nulls("line").unique().sort("file_id", "line")
    return {str(key[0]): part["line"].to_list() for key, part in lines.partition_by("file_id", as_dict=True).items()}


def _parts(con: Connection, player_id: str) -> pl.DataFrame:
    """First words of the keys of the player's rows: the id, and ids of sessions, trials and flags."""
    ids = [frame(con, _OWNERS[column], [player_id]).to_series().alias("part") for column in _OWNERS]
    return pl.DataFrame({"part": pl.concat(ids).unique()})


def _lines(con: Connection, player_id: str) -> pl.DataFrame:
    """``what`` (live, replaced or refused), ``file_id``, ``line``."""
    live = [
        frame(
            con,
            f"select 'live' as what, file_id, line from \"{kind.table}\" where {_theirs(core_tables()[kind.table])}",
            [player_id],
        )
        for kind in KINDS.values()
    ]
    with registered(con, "parts", _parts(con, player_id)):
        kept = frame(
            con,
            """
            select 'replaced' as what, file_id, line from superseded_row
            where split_part(part, '|', 1) in (select part from parts)
            union all
            select 'refused', file_id, line from problem
            where split_part(row_key, '|', 1) in (select part from parts) or "value" in (select part from parts)
            """,
        )
    return pl.concat([*live, kept])


def n_rows_of(con: Connection, player_id: str) -> int:
    """How many live rows are about a player."""
    return _lines(con, player_id).filter(what="live").height


def erase_rows(con: Connection, player_id: str) -> None:
    """Take out every row about a player, and count the files anew. Call it within a transaction; it may be done again."""
    lines = _lines(con, player_id)
    parts = _parts(con, player_id)
    _recount(con, lines)
    with registered(con, "parts", parts):
        con.execute("delete from superseded_row where split_part(part, '|', 1) in (select part from parts)").fetchall()
        con.execute(
            """
            delete from problem
            where split_part(row_key, '|', 1) in (select part from parts) or "value" in (select part from parts)
            """
        ).fetchall()
    # Rows that belong through a session, trial or flag go before these do, and these before the player.
    for _, table in sorted(personal_tables().items(), key=lambda item: (_rank(item[1]), item[0])):
        con.execute(f'delete from "{table.name}" where {_theirs(table)}', [player_id]).fetchall()


def _rank(table: Table) -> int:
    return -list(_OWNERS).index(_owner(table)) if table.name not in {"session", "trial", "flag"} else 1


def _recount(con: Connection, lines: pl.DataFrame) -> None:
    """The kept copies lack the player's rows from now on: they are no longer rows of their files."""
    counts = (
        lines.drop_nulls("line")
        .group_by("file_id")
        .agg(
            pl.col("line").filter(pl.col("what") != "refused").n_unique().alias("n_loaded"),
            pl.col("line").filter(pl.col("what") == "refused").n_unique().alias("n_refused"),
        )
    )
    errors = "select distinct file_id, line from problem where severity = 'error'"
    with registered(con, "counts", counts), registered(con, "lines", lines.select("file_id", "line", "what")):
        con.execute(
            f"""
            with refused as (
              select file_id, count(*) as n from ({errors}) semi join lines using (file_id, line) group by file_id
            )
            update file set
              n_loaded = file.n_loaded - counts.n_loaded,
              n_quarantined = file.n_quarantined - coalesce(refused.n, 0),
              n_rows = file.n_rows - counts.n_loaded - coalesce(refused.n, 0),
              redacted = true
            from counts left join refused using (file_id)
            where file.file_id = counts.file_id and file.status <> 'held'
            """
        ).fetchall()


def empty_held_file(con: Connection, file_id: str) -> None:
    """A held file that was about a player is gone: nothing of it is left but its checksum."""
    con.execute("delete from problem where file_id = ?", [file_id]).fetchall()
    con.execute(
        "update file set n_rows = 0, n_quarantined = 0, kept_as = '', redacted = true where file_id = ?", [file_id]
    ).fetchall()


def keep_under(con: Connection, file_id: str, name: str, kept_as: str) -> None:
    """Note under which name a file is listed now, and where its kept copy lies."""
    con.execute("update file set name = ?, kept_as = ? where file_id = ?", [name, kept_as, file_id]).fetchall()
