"""The ledger of files and the rows of files: loading, replacing by newer files, and what is still waiting for something."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from schemas.files import FileKind
from warehouse.connection import frame, insert_frame, registered
from warehouse.filling import rows_with_part, take_over
from warehouse.keys import row_key, same_in

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    import duckdb

    Connection = duckdb.DuckDBPyConnection


def keep_academy(con: Connection, name: str, time_zone: str) -> None:
    """Keep what views need of the settings; writes only when something changed."""
    if con.execute("select name, time_zone from academy").fetchall() != [(name, time_zone)]:
        con.execute("delete from academy").fetchall()
        con.execute("insert into academy values (?, ?)", [name, time_zone]).fetchall()


@dataclass(frozen=True)
class KnownFile:
    """A delivery that was looked at before.

    Attributes
    ----------
    status : str
        loaded, held or superseded.
    name, kind, kept_as : str
    redacted : bool
    received_at : datetime
        As the ledger has them.
    """

    status: str
    name: str
    kind: str
    kept_as: str
    redacted: bool
    received_at: datetime

    @property
    def stands(self) -> bool:
        """Its rows are loaded, and no newer file has replaced them all; or rows were taken out of it that nobody may keep.

        Dropping it again changes nothing.
        """
        return self.status == "loaded" or (self.redacted and self.status != "withdrawn")


def known_files(con: Connection, file_ids: list[str]) -> dict[str, KnownFile]:
    """Deliveries among ``file_ids`` that were looked at before, by id."""
    if not file_ids:
        return {}
    rows = con.execute(
        "select file_id, status, name, coalesce(kind, ''), kept_as, redacted, received_at "
        f"from file where file_id in ({', '.join('?' * len(file_ids))})",
        file_ids,
    ).fetchall()
    return {file_id: KnownFile(*rest) for file_id, *rest in rows}


def players(con: Connection) -> pl.DataFrame:
    """``player_id`` and ``health_consent`` of everybody."""
    return frame(con, "select player_id, health_consent from player order by player_id")


def names_and_hands(con: Connection) -> list[tuple[str, str | None, str | None]]:
    """``player_id``, ``alias`` and ``handed`` of everybody."""
    return con.execute("select player_id, alias, handed from player order by player_id").fetchall()


def birth_years(con: Connection) -> pl.DataFrame:
    """``player_id`` and ``birth_year`` of everybody who has told it."""
    return frame(con, "select player_id, birth_year from player where birth_year is not null")


def leaving_days(con: Connection) -> pl.DataFrame:
    """``player_id`` and ``left_on`` of everybody who has left."""
    return frame(con, "select player_id, left_on from player where left_on is not null")


def sessions(con: Connection, session_ids: pl.Series) -> pl.DataFrame:
    """``session_id``, ``player_id``, ``started_at`` of those sessions that are there."""
    with registered(con, "asked", pl.DataFrame({"session_id": session_ids.drop_nulls().unique()})):
        return frame(con, "select session_id, player_id, started_at from session semi join asked using (session_id)")


def visit_times(con: Connection, days: pl.Series) -> pl.DataFrame:
    """When the visits of a day were whose ids are ``day``, ``day-2``, ``day-3`` and so on.

    Returns
    -------
    polars.DataFrame
        ``day``, ``session_id``, ``first``, ``last`` shot, by session_id.
    """
    with registered(con, "asked", pl.DataFrame({"day": days.unique()})):
        return frame(
            con,
            """
            select asked.day, shot.session_id, min(shot.struck_at) as first, max(shot.struck_at) as last
            from shot join asked
              on shot.session_id = asked.day
              or (starts_with(shot.session_id, asked.day || '-')
                and regexp_full_match(substr(shot.session_id, length(asked.day) + 2), '[2-9][0-9]?'))
            group by all order by shot.session_id
            """,
        )


def owners_of_sessions(con: Connection, session_ids: pl.Series) -> pl.DataFrame:
    """``session_id``, ``player_id``, ``started_at``, ``file_id`` of those sessions that are there."""
    with registered(con, "asked", pl.DataFrame({"session_id": session_ids.unique()})):
        return frame(con, "select session_id, player_id, started_at, file_id from session semi join asked using (session_id)")


def aliases(con: Connection) -> pl.DataFrame:
    """``player_id``, ``alias``, ``file_id`` of everybody."""
    return frame(con, "select player_id, alias, file_id from player")


def agreed_since(con: Connection, file_ids: list[str]) -> set[str]:
    """Those files with rows that were refused for want of consent, or of the player, by players who have agreed since."""
    with registered(con, "asked", pl.DataFrame({"file_id": file_ids}, schema={"file_id": pl.String})):
        rows = con.execute(
            """
            select distinct problem.file_id
            from problem semi join asked using (file_id)
            join player on player.player_id = problem.value and player.health_consent
            join file on file.file_id = problem.file_id
            where problem.rule in ('no_health_consent', 'unknown_player') and not problem.closed and file.redacted
            """
        ).fetchall()
    return {file_id for (file_id,) in rows}


def side_history(con: Connection, player_ids: pl.Series) -> pl.DataFrame:
    """How far to one side each player's sessions usually lie, by group of clubs and sided quantity.

    ``curve_deg`` is how far a ball ends to the right of where it started, seen from the tee.

    Returns
    -------
    polars.DataFrame
        ``player_id``, ``club_group``, ``quantity``, ``middle`` and ``spread`` (median and its absolute deviation over the
        medians of sessions), ``n_sessions``.
    """
    with registered(con, "asked", pl.DataFrame({"player_id": player_ids.unique()})):
        return frame(
            con,
            """
            with by_session as (
              select player_id, club_group, session_id,
                median(direction_deg) as direction_deg, median(spin_axis_deg) as spin_axis_deg,
                median(path_deg) as path_deg, median(face_deg) as face_deg,
                median(case when carry_m > 0 then degrees(atan2(offline_m, carry_m)) - direction_deg end) as curve_deg
              from shot join club using (club) semi join asked using (player_id)
              group by all
              having count(*) >= 8
            ),
            long as (
              unpivot by_session on direction_deg, spin_axis_deg, path_deg, face_deg, curve_deg
              into name quantity value middle
            )
            select player_id, club_group, quantity,
              median(middle) as middle, mad(middle) as spread, count(*) as n_sessions
            from long
            group by all
            order by all
            """,
        )


def ledger_rows(con: Connection) -> pl.DataFrame:
    """Every delivery, in the order in which they were taken in."""
    return frame(con, "select * from file order by received_at, modified_at, name, file_id")


def problems_without_rows(con: Connection) -> pl.DataFrame:
    """Problems that reading the kept file would not find again: it is held or taken back, is not there, or lacks rows."""
    return frame(
        con,
        """
        select problem.* from problem join file using (file_id)
        where file.status in ('held', 'withdrawn') or file.redacted or file.kept_as = ''
        order by all
        """,
    )


def put_ledger(con: Connection, files: pl.DataFrame, problems: pl.DataFrame) -> None:
    """Put these rows of ledger and problems in place of what the same files have. Call it within a transaction."""
    with registered(con, "told_files", files.select("file_id")):
        for table in ("problem", "file"):
            con.execute(f"delete from {table} where file_id in (select file_id from told_files)").fetchall()
    write_ledger(con, files, problems)


def keep_places(con: Connection, files: pl.DataFrame) -> None:
    """Note under which ``name`` and ``mapping`` each of these files is listed, and where it lies (``kept_as``)."""
    with registered(con, "told_files", files):
        con.execute(
            """
            update file set name = told.name, mapping = told.mapping, kept_as = told.kept_as
            from told_files as told where told.file_id = file.file_id
            """
        ).fetchall()


def forget_file(con: Connection, kind: FileKind | None, file_id: str) -> None:
    """Take a file's rows, problems and ledger entry out, so that it can be taken in anew; ``kind``: None when it had none."""
    for table in {kind.table, "session"} if kind else ():
        con.execute(f'delete from "{table}" where file_id = ?', [file_id]).fetchall()
    for table in ("superseded_row", "problem", "consent", "file"):
        con.execute(f'delete from "{table}" where file_id = ?', [file_id]).fetchall()


def write_ledger(con: Connection, files: pl.DataFrame, problems: pl.DataFrame) -> None:
    """Append files and their problems."""
    insert_frame(con, "file", files)
    insert_frame(con, "problem", problems)


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def _parts_there(con: Connection, kind: FileKind, parts: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Rows live and rows replaced of these parts: ``part``, ``row_key``, ``file_id``, ``line``."""
    overlap = kind.overlaps_on or kind.key
    keep = sorted({*kind.replaces, *overlap})
    with registered(con, "incoming_parts", parts):
        live = frame(
            con,
            f"""
            select {_listed(keep)}, file_id, line
            from "{kind.table}" as own semi join incoming_parts on {same_in("own", "incoming_parts", kind.replaces)}
            """,
        )
        gone = frame(
            con,
            """
            select part, row_key, file_id, line from superseded_row semi join incoming_parts using (part)
            where kind = ? and superseded_by <> file_id
            """,
            [kind.name],
        )
    return live.select(row_key(kind.replaces).alias("part"), row_key(overlap).alias("row_key"), "file_id", "line"), gone


def _versions(con: Connection, kind: FileKind, file_ids: pl.Series) -> pl.DataFrame:
    """Files in order of version: a file of the kind itself before one that only implied the row; then clock, name, receipt."""
    with registered(con, "asked", pl.DataFrame({"file_id": file_ids.unique()})):
        return frame(
            con,
            """
            select file_id, coalesce(absent, '') as absent,
              row_number() over (order by kind = ?, modified_at, name, received_at, file_id) as version
            from file semi join asked using (file_id)
            """,
            [kind.name],
        )


def _replaced(claims: pl.DataFrame, versions: pl.DataFrame) -> pl.DataFrame:
    """``part``, ``file_id``, ``superseded_by``: what a newer file that shares a row key replaces."""
    ranked = claims.select("part", "row_key", "file_id").unique().join(versions.drop("absent"), on="file_id")
    newer = ranked.join(ranked, on=["part", "row_key"], suffix="_by").filter(pl.col("version_by") > pl.col("version"))
    return (
        newer.sort("version_by")
        .group_by("part", "file_id", maintain_order=True)
        .agg(pl.col("file_id_by").last().alias("superseded_by"), pl.col("version_by").last())
    )


def _contested(rows: pl.DataFrame, live: pl.DataFrame, gone: pl.DataFrame) -> pl.Series:
    several = rows.group_by("part").agg(pl.col("file_id").n_unique().alias("n")).filter(pl.col("n") > 1)["part"]
    return pl.concat([several, live["part"], gone["part"]]).unique()


_SHRUNK = {"file_id": pl.String(), "part": pl.String(), "n_brought": pl.UInt32(), "n_replaced": pl.UInt32()}


def load_rows(con: Connection, kind: FileKind, rows: pl.DataFrame) -> pl.DataFrame:
    """Load good rows; where two files speak of the same, the newer one's rows stay. The ledger must hold the files already.

    Parameters
    ----------
    con : duckdb connection
        In a transaction.
    kind : FileKind
    rows : polars.DataFrame
        Typed columns of the kind, ``file_id`` and ``line``.

    Returns
    -------
    polars.DataFrame
        ``file_id``, ``part``, ``n_brought``, ``n_replaced``: parts (a session, say) in which a file replaced more rows than
        it brought.
    """
    if rows.is_empty():
        return pl.DataFrame(schema=_SHRUNK)
    parts = rows.select(*kind.replaces, row_key(kind.replaces).alias("part")).unique("part")
    live, gone = _parts_there(con, kind, parts)
    keyed = rows.select(row_key(kind.replaces).alias("part"), "file_id")
    contested = _contested(keyed.unique(), live, gone)
    if contested.is_empty():
        insert_frame(con, kind.table, rows)
        return pl.DataFrame(schema=_SHRUNK)
    return _load_contested(con, kind, rows.with_columns(keyed["part"]), contested, live, gone)


def replaced_by(con: Connection, kind: FileKind, rows: pl.DataFrame, modified_at: datetime, name: str) -> pl.DataFrame:
    """What a file that is not loaded would replace, or be replaced by: ``part`` and ``by_this``; changes nothing."""
    if rows.is_empty():
        return pl.DataFrame(schema={"part": pl.String, "by_this": pl.Boolean})
    parts = rows.select(*kind.replaces, row_key(kind.replaces).alias("part")).unique("part")
    live, gone = _parts_there(con, kind, parts)
    there = pl.concat([live, gone.select(live.columns)])
    own = rows.select(row_key(kind.replaces).alias("part"), row_key(kind.overlaps_on or kind.key).alias("row_key"))
    met = there.join(own, on=["part", "row_key"], how="semi").select("part", "file_id").unique()
    with registered(con, "met", met):
        return frame(
            con,
            """
            select part, bool_and(kind <> ? or (modified_at, name) < (cast(? as timestamp), ?)) as by_this
            from met join file using (file_id) group by part order by part
            """,
            [kind.name, modified_at, name],
        )


def _load_contested(
    con: Connection, kind: FileKind, rows: pl.DataFrame, contested: pl.Series, live: pl.DataFrame, gone: pl.DataFrame
) -> pl.DataFrame:
    overlap = kind.overlaps_on or kind.key
    new = rows.filter(pl.col("part").is_in(contested.implode())).select(
        "part", row_key(overlap).alias("row_key"), "file_id", "line"
    )
    claims = pl.concat([new, live.select(new.columns), gone.select(new.columns)])
    versions = _versions(con, kind, claims["file_id"])
    replaced = _replaced(claims, versions)
    older = rows_with_part(con, kind, live["part"]) if kind.fills else rows.clear()
    retired = claims.join(replaced.drop("version_by"), on=["part", "file_id"]).with_columns(pl.lit(kind.name).alias("kind"))
    with registered(con, "retired", retired):
        for table, same_kind in ((kind.table, ""), ("superseded_row", "and gone.kind = retired.kind")):
            con.execute(
                f"""
                delete from "{table}" as gone using retired
                where gone.file_id = retired.file_id and gone.line = retired.line {same_kind}
                """
            ).fetchall()
    insert_frame(con, "superseded_row", retired)
    winners = rows.join(replaced, on=["part", "file_id"], how="anti", maintain_order="left")
    if kind.fills:
        winners = take_over(con, kind, winners, rows, older, versions)
    insert_frame(con, kind.table, winners.drop("part"))
    _mark_superseded(con, kind, replaced)
    return _shrunk(claims, retired.join(gone, on=["file_id", "line"], how="anti"))


def _shrunk(claims: pl.DataFrame, newly_retired: pl.DataFrame) -> pl.DataFrame:
    """Parts of which the newer file has fewer rows than the one that it replaced now."""
    lost = newly_retired.group_by("part", "file_id", "superseded_by").agg(pl.len().alias("n_replaced"))
    brought = claims.group_by("part", pl.col("file_id").alias("superseded_by")).agg(pl.len().alias("n_brought"))
    fewer = lost.join(brought, on=["part", "superseded_by"]).filter(pl.col("n_brought") < pl.col("n_replaced"))
    return (
        fewer.group_by("superseded_by", "part")
        .agg(pl.col("n_brought").first(), pl.col("n_replaced").max())
        .select(pl.col("superseded_by").alias("file_id"), "part", "n_brought", "n_replaced")
        .sort("file_id", "part")
        .cast({"n_brought": pl.UInt32, "n_replaced": pl.UInt32})
    )


def _mark_superseded(con: Connection, kind: FileKind, replaced: pl.DataFrame) -> None:
    """A file without a live row left is superseded."""
    newest = replaced.sort("version_by").group_by("file_id").agg(pl.col("superseded_by").last())
    with registered(con, "replaced_files", newest):
        con.execute(
            f"""
            update file set status = 'superseded', superseded_by = replaced_files.superseded_by
            from replaced_files
            where file.file_id = replaced_files.file_id and file.kind = ? and file.status <> 'held'
              and not exists (select 1 from "{kind.table}" as live where live.file_id = file.file_id)
            """,
            [kind.name],
        ).fetchall()
