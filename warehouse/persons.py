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


_SEEN = pl.Schema({"file_id": pl.String(), "line": pl.Int64()})

_OF_DECISIONS = """
  coalesce(player_id, '') = $1
  or flag_id in (select flag_id from flag where player_id = $1)
  or flag_id in (select flag_id from decision_subject where player_id = $1)
"""
"""A decision written by hand may name only its flag, or only its player."""


def _theirs(table: Table) -> str:
    column = _owner(table)
    return _OF_DECISIONS if table.name == "decision" else f'"{column}" in ({_OWNERS[column].replace("?", "$1")})'


def ids_of_player(con: Connection, player_id: str) -> tuple[str, ...]:
    """Ids of the player's sessions, trials and flags, those of decided flags too."""
    wanted = (*(_OWNERS[column] for column in ("flag_id", "session_id", "trial_id")), _SUBJECTS)
    found = [frame(con, query, [player_id]).to_series().cast(pl.String) for query in wanted]
    return tuple(sorted(set(pl.concat(found).drop_nulls())))


_SUBJECTS = "select flag_id from decision_subject where player_id = ?"


def known_people(con: Connection) -> dict[str, str]:
    """Every player id that any row has, to the alias; empty for one who is in no players file."""
    named = [f'select player_id from "{name}"' for name, table in personal_tables().items() if "player_id" in table.names]
    refused = 'select "value" from problem where "column" = \'player_id\''
    replaced = "select split_part(row_key, '|', 1) from problem"
    rows = frame(
        con,
        f"""
        select named.player_id, coalesce(player.alias, '') as alias
        from ({" union ".join([*named, refused, replaced])}) as named
        left join player using (player_id)
        where named.player_id is not null and named.player_id <> ''
        order by named.player_id
        """,
    )
    return dict(rows.iter_rows())


def texts_of(con: Connection) -> list[tuple[str, str, list[str]]]:
    """Table, column, and the different texts of every column that holds what somebody wrote; ids and keys are left out."""
    found = []
    for name, table in sorted(core_tables().items()):
        free = (column.name for column in table.columns if column.kind == "text" and column.name not in {*table.grain, "kept_as"})
        for column in free:
            if not column.endswith("_id"):
                rows = frame(con, f'select distinct "{column}" as told from "{name}" where "{column}" is not null order by told')
                found.append((name, column, rows["told"].to_list()))
    return found


def replace_texts(con: Connection, table: str, column: str, texts: dict[str, str]) -> None:
    """Put other texts in place of these; call it within a transaction."""
    for before, after in texts.items():
        con.execute(f'update "{table}" set "{column}" = ? where "{column}" = ?', [after, before]).fetchall()


def clear_derived(con: Connection) -> None:
    """Empty what is derived and belongs to no single player: the next night makes it anew. Call it within a transaction."""
    kept = {*(kind.table for kind in KINDS.values()), "file", "problem", "superseded_row", "academy", "club"}
    for name in sorted(core_tables().keys() - kept - personal_tables().keys()):
        con.execute(f'delete from "{name}"').fetchall()


def kept_files(con: Connection) -> pl.DataFrame:
    """``file_id``, ``name``, ``kind``, ``mapping``, ``kept_as``, ``status`` of every file that is kept, by file_id."""
    return frame(
        con,
        "select file_id, name, coalesce(kind, '') as kind, coalesce(mapping, '') as mapping, kept_as, status "
        "from file where kept_as <> '' order by file_id",
    )


def ledger_places(con: Connection) -> dict[str, tuple[str, str]]:
    """Where the kept copies lie, to id and name of their file."""
    rows = con.execute("select kept_as, file_id, name from file where kept_as <> ''").fetchall()
    return {str(place): (str(file_id), str(name)) for place, file_id, name in rows}


def note_cleaned(con: Connection, file_id: str, kept_as: str) -> None:
    """Note that a kept copy lies elsewhere now, without what was taken out of it."""
    con.execute("update file set kept_as = ?, redacted = true where file_id = ?", [kept_as, file_id]).fetchall()


def rows_of_player(con: Connection, player_id: str) -> dict[str, pl.DataFrame]:
    """Every row about a player, by table; tables without one are left out."""
    found = {}
    for name, table in personal_tables().items():
        order = ", ".join(f'"{column}"' for column in table.grain)
        rows = frame(con, f'select * from "{name}" where {_theirs(table)} order by {order}', [player_id])
        if not rows.is_empty():
            found[name] = rows
    return found


def files_naming(con: Connection, player_id: str, seen: pl.DataFrame | None = None) -> pl.DataFrame:
    """Ledger rows of files with a row of the player, live, replaced or refused; ``seen``: lines found in the kept copies.

    Returns
    -------
    polars.DataFrame
        ``file_id``, ``name``, ``kind``, ``mapping``, ``kept_as``, ``status``, by file_id.
    """
    lines = told_lines(con, player_id, seen)
    with registered(con, "named", lines.select("file_id").unique()):
        return frame(
            con,
            "select file_id, name, coalesce(kind, '') as kind, coalesce(mapping, '') as mapping, kept_as, status "
            "from file semi join named using (file_id) order by file_id",
        )


def lines_of_player(con: Connection, player_id: str, seen: pl.DataFrame | None = None) -> dict[str, list[int]]:
    """File to the lines that are about the player, as far as they were read."""
    lines = told_lines(con, player_id, seen).drop_nulls("line").unique().sort("file_id", "line")
    return {str(key[0]): part["line"].to_list() for key, part in lines.partition_by("file_id", as_dict=True).items()}


def _parts(con: Connection, player_id: str) -> pl.DataFrame:
    """First words of the keys of the player's rows: the id, and ids of sessions, trials and flags."""
    ids = [frame(con, _OWNERS[column], [player_id]).to_series().alias("part") for column in _OWNERS]
    return pl.DataFrame({"part": pl.concat(ids).unique()})


def told_lines(con: Connection, player_id: str, seen: pl.DataFrame | None = None) -> pl.DataFrame:
    """``what`` (live, replaced or refused), ``file_id``, ``line``; ``seen``: file and line of further rows of the player."""
    seen = pl.DataFrame(schema=_SEEN) if seen is None else seen.select(list(_SEEN)).cast(_SEEN)
    live = [
        frame(
            con,
            f"select 'live' as what, file_id, line from \"{kind.table}\" where {_theirs(core_tables()[kind.table])}",
            [player_id],
        )
        for kind in KINDS.values()
    ]
    with registered(con, "parts", _parts(con, player_id)), registered(con, "seen_lines", seen):
        kept = frame(
            con,
            """
            select 'replaced' as what, file_id, line from superseded_row
            where split_part(part, '|', 1) in (select part from parts)
            union all
            select 'refused', file_id, line from problem
            where split_part(row_key, '|', 1) in (select part from parts) or "value" in (select part from parts)
            union all
            select 'refused', file_id, line from problem semi join seen_lines using (file_id, line)
            """,
        )
    return pl.concat([*live, kept])


def n_rows_of(con: Connection, player_id: str) -> int:
    """How many live rows are about a player."""
    return told_lines(con, player_id).filter(what="live").height


def erase_rows(con: Connection, player_id: str, seen: pl.DataFrame) -> None:
    """Take out every row about a player, and count the files anew. Call it within a transaction; it may be done again.

    Parameters
    ----------
    con : duckdb connection
    player_id : str
    seen : polars.DataFrame
        ``file_id``, ``line``: rows of the player that were found in the kept copies, refused ones too.
    """
    lines = told_lines(con, player_id, seen)
    parts = _parts(con, player_id)
    recount(con, lines)
    with registered(con, "parts", parts), registered(con, "seen_lines", seen.select(list(_SEEN)).cast(_SEEN)):
        con.execute("delete from superseded_row where split_part(part, '|', 1) in (select part from parts)").fetchall()
        con.execute(
            """
            delete from problem
            where split_part(row_key, '|', 1) in (select part from parts) or "value" in (select part from parts)
              or (file_id, line) in (select (file_id, line) from seen_lines)
            """
        ).fetchall()
    # Rows that belong through a session, trial or flag go before these do, and these before the player.
    for _, table in sorted(personal_tables().items(), key=lambda item: (_rank(item[1]), item[0])):
        con.execute(f'delete from "{table.name}" where {_theirs(table)}', [player_id]).fetchall()


def _rank(table: Table) -> int:
    return -list(_OWNERS).index(_owner(table)) if table.name not in {"session", "trial", "flag"} else 1


def recount(con: Connection, lines: pl.DataFrame) -> None:
    """The kept copies lack these rows (``what``, ``file_id``, ``line``) from now on: they are no longer rows of their files."""
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


def note_read_otherwise(con: Connection) -> None:
    """A mapping lost a name: files that were read through one can no longer be told to be as they were dropped."""
    con.execute("update file set redacted = true where coalesce(mapping, '') <> ''").fetchall()
