"""Who agreed to body reports being kept; what is taken out when somebody no longer does."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.core import core_tables
from schemas.files import KINDS
from warehouse.connection import frame, insert_frame, registered
from warehouse.night import forget_night
from warehouse.units import forget_units_of

if TYPE_CHECKING:
    import duckdb

    Connection = duckdb.DuckDBPyConnection

_ALLOWED = "body reports only of players with health_consent = true"
_HINT = "The player has withdrawn consent: nothing of the row is kept."


def state_consents(con: Connection, rows: pl.DataFrame, files: pl.DataFrame) -> None:
    """Keep what players files say about consent; the newest statement counts, an empty cell says nothing.

    Parameters
    ----------
    con : duckdb connection
        In a transaction, after the players were loaded.
    rows : polars.DataFrame
        Good rows of players files, with ``file_id``.
    files : polars.DataFrame
        Ledger rows of these files.
    """
    stated = rows.filter(pl.col("health_consent").is_not_null()).join(files.select("file_id", "modified_at"), on="file_id")
    insert_frame(
        con,
        "consent",
        stated.select("player_id", "file_id", pl.col("modified_at").alias("stated_at"), pl.col("health_consent").alias("agreed")),
    )
    with registered(con, "named_players", rows.select("player_id").unique()):
        con.execute(
            """
            with newest as (
              select consent.player_id, arg_max(consent.agreed, (consent.stated_at, file.name, file.file_id)) as agreed
              from consent semi join named_players using (player_id) join file using (file_id)
              group by all
            )
            update player set health_consent = newest.agreed
            from newest
            where player.player_id = newest.player_id and player.health_consent is distinct from newest.agreed
            """
        ).fetchall()


AGREED_SINCE = "The player has agreed by now: drop this file again, where that holds for it too. Nothing of the row was kept."
NOT_AGREED = "Ask for consent and record it in a players file, then drop this file again. Nothing of the row was kept."


def retell_refused(con: Connection) -> pl.DataFrame:
    """Put what to do about rows of which nothing was kept right, where their player has agreed since, or does no more.

    Returns
    -------
    polars.DataFrame
        ``file_id``, ``name``, ``kind``, ``player_id``, ``agreed``: those that were put right.
    """
    bodies = ", ".join(f"'{kind.name}'" for kind in KINDS.values() if kind.body)
    where = f"""
      problem.file_id = file.file_id and player.player_id = problem.value and file.redacted and file.kind in ({bodies})
      and problem.rule in ('no_health_consent', 'unknown_player') and not problem.closed and file.status <> 'withdrawn'
      and coalesce(player.health_consent, false) <> (problem.hint = '{AGREED_SINCE}')
    """
    found = frame(
        con,
        f"""
        select distinct file.file_id, file.name, file.kind, problem.value as player_id,
          coalesce(player.health_consent, false) as agreed
        from problem, file, player where {where} and (player.health_consent or problem.hint = '{AGREED_SINCE}')
        order by all
        """,
    )
    con.execute(
        f"""
        update problem set hint = case when player.health_consent then '{AGREED_SINCE}' else '{NOT_AGREED}' end
        from file, player where {where} and (player.health_consent or problem.hint = '{AGREED_SINCE}')
        """
    ).fetchall()
    return found


def groups_with_players(con: Connection) -> frozenset[str]:
    """Names of groups that a player is, was or will be in."""
    return frozenset(name for (name,) in con.execute("select distinct group_name from player_group").fetchall())


_REFUSED = "(select player_id from player where not health_consent)"


def withdraw_body_rows(con: Connection) -> pl.DataFrame:
    """Take out body rows of players who do not agree (any more); the ledger then counts them as in quarantine.

    Returns
    -------
    polars.DataFrame
        ``file_id``, ``name``, ``kind``, ``mapping``, ``kept_as``, ``player_id``: files that hold or held such rows, good or
        bad. They have to be taken out of the kept originals and of the lists of problems too.
    """
    named = _named_in_problems(con)
    taken = pl.concat([_withdrawn(con, kind.name, kind.table) for kind in KINDS.values() if kind.body])
    if not taken.is_empty():
        insert_frame(con, "problem", _problems(taken))
        _recount(con, taken)
    touched = pl.concat([taken.select("file_id", "player_id"), named]).unique()
    if touched.is_empty():
        return frame(con, "select file_id, name, kind, mapping, kept_as, '' as player_id from file limit 0")
    with registered(con, "touched", touched):
        return frame(
            con,
            """
            select file_id, name, kind, coalesce(mapping, '') as mapping, kept_as, player_id
            from file join touched using (file_id) order by file_id, player_id
            """,
        )


def _problems(taken: pl.DataFrame) -> pl.DataFrame:
    texts = {
        "column": "player_id",
        "rule": "no_health_consent",
        "allowed": _ALLOWED,
        "hint": _HINT,
        "severity": "error",
        "row_key": "",
    }
    return taken.select(
        "file_id",
        "line",
        pl.col("player_id").alias("value"),
        *(pl.lit(text).alias(name) for name, text in texts.items()),
        pl.lit(value=False).alias("closed"),
    )


def _named_in_problems(con: Connection) -> pl.DataFrame:
    """Files with problems of rows of players who do not agree, where something of the row is still told."""
    kinds = ", ".join(f"'{kind.name}'" for kind in KINDS.values() if kind.body)
    return frame(
        con,
        f"""
        select distinct problem.file_id, split_part(problem.row_key, '|', 1) as player_id
        from problem join file using (file_id)
        where file.kind in ({kinds}) and split_part(problem.row_key, '|', 1) in {_REFUSED}
        """,
    )


def _withdrawn(con: Connection, kind: str, table: str) -> pl.DataFrame:
    live = frame(con, f'select file_id, line, player_id from "{table}" where player_id in {_REFUSED}')
    gone = frame(
        con,
        f"""
        select file_id, line, split_part(part, '|', 1) as player_id from superseded_row
        where kind = ? and split_part(part, '|', 1) in {_REFUSED}
        """,
        [kind],
    )
    con.execute(f'delete from "{table}" where player_id in {_REFUSED}').fetchall()
    con.execute(f"delete from superseded_row where kind = ? and split_part(part, '|', 1) in {_REFUSED}", [kind]).fetchall()
    con.execute(
        f"""
        update problem set value = case when "column" = 'player_id' then value else '' end, row_key = ''
        from file
        where problem.file_id = file.file_id and file.kind = ? and split_part(problem.row_key, '|', 1) in {_REFUSED}
        """,
        [kind],
    ).fetchall()
    return pl.concat([live, gone])


def told_problems(con: Connection, file_id: str) -> pl.DataFrame:
    """A file's problems as its list shows them."""
    return frame(
        con,
        """
        select line, "column", value, rule, allowed, hint, severity from problem
        where file_id = ? order by severity = 'warning', line nulls first, "column", rule
        """,
        [file_id],
    )


def moved(con: Connection, file_id: str, kept_as: str) -> None:
    """Note where a file's kept copy lies now."""
    con.execute("update file set kept_as = ? where file_id = ?", [kept_as, file_id]).fetchall()


def _recount(con: Connection, taken: pl.DataFrame) -> None:
    with registered(con, "taken", taken.group_by("file_id").len("n")):
        con.execute(
            """
            update file set n_loaded = n_loaded - taken.n, n_quarantined = n_quarantined + taken.n, redacted = true
            from taken
            where file.file_id = taken.file_id
            """
        ).fetchall()


def refused_players(con: Connection) -> list[str]:
    """Players who do not agree, or no longer."""
    return frame(con, f"select player_id from {_REFUSED} order by player_id")["player_id"].to_list()


def flags_of(con: Connection, players: list[str]) -> tuple[list[str], list[str]]:
    """Ids of flags that were decided about these players, and those of them that are about the body."""
    rows = frame(
        con,
        """
        select flag_id, audience = 'physio' or region <> '' as is_body from decision_subject
        where list_contains(?, player_id) order by flag_id
        """,
        [players],
    )
    return rows["flag_id"].to_list(), rows.filter("is_body")["flag_id"].to_list()


def withdraw_decisions(con: Connection, file_id: str, lines: tuple[int, ...]) -> set[str]:
    """Take the decisions at these lines of a file out; the ledger then counts them as in quarantine. Returns whose they were.

    Nothing of the row is told any more but who does not agree.
    """
    here = pl.DataFrame({"file_id": [file_id] * len(lines), "line": lines}, schema={"file_id": pl.String, "line": pl.Int64})
    by_flag = "(select any_value(player_id) from decision_subject subject where subject.flag_id = decision.flag_id)"
    owner = f"coalesce(nullif(decision.player_id, ''), {by_flag})"
    with registered(con, "withdrawn_lines", here):
        live = frame(
            con,
            f"select decision.file_id, line, {owner} as player_id from decision semi join withdrawn_lines using (file_id, line)",
        )
        gone = frame(
            con,
            """
            select file_id, line, subject.player_id from superseded_row
            semi join withdrawn_lines using (file_id, line)
            left join decision_subject subject on subject.flag_id = split_part(part, '|', 1)
            where superseded_row.kind = 'decisions'
            """,
        )
        con.execute(
            """
            delete from decision_subject
            where (audience = 'physio' or region <> '')
              and flag_id in (select flag_id from decision semi join withdrawn_lines using (file_id, line))
            """
        ).fetchall()
        con.execute("delete from decision where (file_id, line) in (select (file_id, line) from withdrawn_lines)").fetchall()
        con.execute(
            "delete from superseded_row where (file_id, line) in (select (file_id, line) from withdrawn_lines)"
        ).fetchall()
        con.execute(
            """
            update problem set value = '', row_key = ''
            where (file_id, line) in (select (file_id, line) from withdrawn_lines)
            """
        ).fetchall()
    taken = pl.concat([live, gone]).with_columns(pl.col("player_id").fill_null("")).unique(["file_id", "line"])
    if not taken.is_empty():
        insert_frame(con, "problem", _problems(taken))
        _recount(con, taken)
    return set(taken["player_id"]) - {""}


def withdraw_derived(con: Connection, players: list[str]) -> None:
    """Take out what was computed about these players; the next night computes what may be known anew."""
    kept = {*(kind.table for kind in KINDS.values()), "consent", "decision_subject", "problem", "superseded_row", "file"}
    tables = {name: table for name, table in core_tables().items() if name not in kept}
    for name, table in sorted(tables.items()):
        if "player_id" not in table.names and "flag_id" in table.names:
            con.execute(
                f'delete from "{name}" where flag_id in (select flag_id from flag where list_contains(?, player_id))', [players]
            ).fetchall()
    for name, table in sorted(tables.items()):
        if "player_id" in table.names:
            con.execute(f'delete from "{name}" where list_contains(?, player_id)', [players]).fetchall()
    forget_units_of(con, players)
    forget_night(con)
