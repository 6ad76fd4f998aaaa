"""Forward-only migrations with checksums, and the views that are laid anew whenever their text changes."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib import resources
from typing import TYPE_CHECKING

import duckdb

from schemas.errors import WarehouseCorruptError, WarehouseNewerError
from warehouse.kind_rows import NAME, kind_rows_sql

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable


@dataclass(frozen=True)
class Script:
    """One SQL file that ships with the program.

    Attributes
    ----------
    name : str
        File name without ``.sql``; of a view: the view's name.
    sql : str
    """

    name: str
    sql: str

    @property
    def number(self) -> int:
        """Number of a migration: the digits that its name begins with."""
        return int(self.name.split("_")[0])

    @property
    def sha256(self) -> str:
        """Checksum of the text."""
        return hashlib.sha256(self.sql.encode()).hexdigest()


def _scripts(folder: Traversable) -> tuple[Script, ...]:
    files = sorted((item for item in folder.iterdir() if item.name.endswith(".sql")), key=lambda item: item.name)
    return tuple(Script(item.name.removesuffix(".sql"), item.read_text(encoding="utf-8")) for item in files)


@cache
def migrations() -> tuple[Script, ...]:
    """Every migration, in order."""
    return _scripts(resources.files("warehouse") / "migrations")


@cache
def views() -> tuple[Script, ...]:
    """Every view, each behind those that it reads."""
    root = resources.files("warehouse") / "views"
    return in_order((*_scripts(root / "core"), *_scripts(root / "marts"), Script(NAME, kind_rows_sql())))


def in_order(scripts: tuple[Script, ...]) -> tuple[Script, ...]:
    """The views in an order in which each finds those that it reads.

    Raises
    ------
    WarehouseCorruptError
        When views read each other in a circle.
    """
    by_name = {script.name: script for script in scripts}
    reads = {name: sorted(_words(script.sql) & (by_name.keys() - {name})) for name, script in by_name.items()}
    try:
        return tuple(by_name[name] for name in TopologicalSorter(reads).static_order())
    except CycleError as fault:
        raise WarehouseCorruptError(f"Views read each other in a circle: {fault.args[1]}.", "Reinstall speedworth.") from fault


def _words(sql: str) -> set[str]:
    code = "\n".join(line.split("--")[0] for line in sql.splitlines())
    return set(re.findall(r"[a-z_0-9]+", code))


@cache
def audits() -> tuple[Script, ...]:
    """Every audit: a query that returns offending rows; none is well."""
    return _scripts(resources.files("warehouse") / "audits")


def _applied(con: duckdb.DuckDBPyConnection) -> dict[int, tuple[str, str]]:
    try:
        rows = con.execute("select number, name, sha256 from migration").fetchall()
    except duckdb.CatalogException:  # no such table: nothing was laid yet
        return {}
    return {number: (name, sha256) for number, name, sha256 in rows}


def _refuse_unfit(applied: dict[int, tuple[str, str]]) -> None:
    known = {script.number: script for script in migrations()}
    newest = max(known)
    if applied and max(applied) > newest:
        raise WarehouseNewerError(
            f"The warehouse has migration {max(applied)}; this speedworth knows {newest} at most.",
            "Use the newer speedworth that wrote it, or bring back an older copy with `speedworth restore`.",
        )
    for number, (name, sha256) in sorted(applied.items()):
        if number not in known or known[number].sha256 != sha256:
            raise WarehouseCorruptError(
                f"Migration {name} differs from the one that this warehouse was built with.",
                "Reinstall speedworth, or make the warehouse anew with `speedworth rebuild`.",
            )


def _run(con: duckdb.DuckDBPyConnection, scripts: list[Script]) -> None:
    """Run migrations and note them; call it within a transaction, so that both stand or neither."""
    for script in scripts:
        con.execute(script.sql).fetchall()
    row = "(?, ?, ?, cast(now() as timestamp))"
    told = [value for script in scripts for value in (script.number, script.name, script.sha256)]
    if scripts:
        con.execute(f"insert into migration values {', '.join([row] * len(scripts))}", told).fetchall()


def _lay_views(con: duckdb.DuckDBPyConnection) -> None:
    """Drop all views and create those that ship."""
    for (name,) in con.execute("select view_name from duckdb_views() where not internal").fetchall():
        con.execute(f'drop view if exists "{name}"').fetchall()
    for script in views():
        con.execute(script.sql).fetchall()


def _views_sha256() -> str:
    return hashlib.sha256("".join(script.name + script.sql for script in views()).encode()).hexdigest()


def migrate(con: duckdb.DuckDBPyConnection) -> int:
    """Bring the warehouse to this version; returns how many migrations ran.

    Raises
    ------
    WarehouseNewerError
        When it was written by a newer version.
    WarehouseCorruptError
        When a migration that it was built with has changed since.
    """
    applied = _applied(con)
    _refuse_unfit(applied)
    waiting = [script for script in migrations() if script.number not in applied]
    if not waiting and _views_are_current(con):
        return 0
    con.execute("begin")
    try:
        if not applied:
            con.execute(
                "create table if not exists migration (number integer, name varchar, sha256 varchar, applied_at timestamp);"
                "create table if not exists view_state (sha256 varchar)"
            ).fetchall()
        _run(con, waiting)
        _lay_views(con)
        con.execute("delete from view_state").fetchall()
        con.execute("insert into view_state values (?)", [_views_sha256()]).fetchall()
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")
    return len(waiting)


def _views_are_current(con: duckdb.DuckDBPyConnection) -> bool:
    return con.execute("select sha256 from view_state").fetchall() == [(_views_sha256(),)]


def require_current(con: duckdb.DuckDBPyConnection) -> None:
    """Refuse to read a warehouse of another version.

    Raises
    ------
    WarehouseNewerError, WarehouseCorruptError
    """
    applied = _applied(con)
    _refuse_unfit(applied)
    if len(applied) < len(migrations()) or not _views_are_current(con):
        raise WarehouseCorruptError(
            "The warehouse is of an older version.", "Run `speedworth run` once: it is brought up to date."
        )
