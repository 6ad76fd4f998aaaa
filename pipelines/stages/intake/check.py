"""A batch of rows of one kind against its contract: every reason of every bad row, and which rows are good.

A bad cell of a column that is not required is emptied and told, and its row goes on; a bad required cell, or cells that do not go
together, send the row to quarantine.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.refused import Refused
from pipelines.stages.intake.rules import CONSENT_CODE, INTAKE_RULES
from schemas.fields import ID_PATTERN
from schemas.files import FileKind, RowRule
from schemas.files.rules import keeps_contract, rules
from schemas.problems import FINDING_SCHEMA
from warehouse.keys import row_key

ROW_PROBLEMS = {"row": pl.Int64(), **FINDING_SCHEMA}
_LONGEST_VALUE = 200
EMPTIED = "emptied"
"""Severity of a problem with a cell that was emptied while its row was loaded."""


@dataclass(frozen=True)
class Known:
    """What rows may refer to.

    Attributes
    ----------
    players : polars.DataFrame or None
        ``player_id``, ``health_consent``; None: there is no warehouse to ask, references are not checked.
    sessions : polars.DataFrame or None
        ``session_id``, ``player_id`` and ``started_at`` of the sessions that the batch may mean.
    now : datetime or None
        The clock (UTC); None: times ahead of it are not doubted.
    history : polars.DataFrame or None
        ``player_id``, ``club_group``, ``quantity``, ``middle``, ``spread``, ``n_sessions`` of sided quantities so far.
    usual : polars.DataFrame or None
        ``player_id``, ``club``, ``quantity``, ``middle``, ``spread``, ``n_sessions``: where the sessions of each player lie.
    flown, air, readings : polars.DataFrame or None
        From :mod:`warehouse.usual_shots`: shots of late with their air, the air of the sessions of the batch, and shots that
        are there with the very readings of the batch.
    wind_height_m : float or None
        Height at which the wind of these airs is measured [m]; None: it counts as the same at every height.
    altitude_m : float or None
        Height of the academy above sea level [m]; for sessions.
    refused : Refused or None
        For decisions: whose about the body must not be kept.
    left : polars.DataFrame or None
        ``player_id``, ``left_on`` of those who have left; for sessions.
    born : polars.DataFrame or None
        ``player_id``, ``birth_year``; for shots.
    aliases : polars.DataFrame or None
        ``player_id``, ``alias`` of everybody; for players.
    named : frozenset of str or None
        What rows may name that is no row elsewhere: courses of academy.toml, for players; groups with players, for plans.
    """

    players: pl.DataFrame | None
    sessions: pl.DataFrame | None
    now: datetime | None = None
    history: pl.DataFrame | None = None
    usual: pl.DataFrame | None = None
    flown: pl.DataFrame | None = None
    air: pl.DataFrame | None = None
    readings: pl.DataFrame | None = None
    wind_height_m: float | None = None
    altitude_m: float | None = None
    refused: Refused | None = None
    aliases: pl.DataFrame | None = None
    born: pl.DataFrame | None = None
    left: pl.DataFrame | None = None
    named: frozenset[str] | None = None


@dataclass(frozen=True)
class Checked:
    """A checked batch.

    Attributes
    ----------
    values : polars.DataFrame, n rows
        Typed columns of the kind.
    problems : polars.DataFrame
        Columns of ``ROW_PROBLEMS``: one row for each reason.
    bad : polars.Series of bool, n
    private : polars.Series of bool, n
        Rows about the body of somebody who has not agreed to it: nothing of them may be kept.
    """

    values: pl.DataFrame
    problems: pl.DataFrame
    bad: pl.Series
    private: pl.Series


def _failures(kind: FileKind, values: pl.DataFrame) -> pl.DataFrame:
    """What the contract says of the typed frame: ``row``, ``column`` (empty for a row rule), ``rule``."""
    if keeps_contract(kind, values):
        return pl.DataFrame(schema={"row": pl.Int64(), "column": pl.String(), "rule": pl.String()})
    from pipelines.stages.intake.broken import broken_rules  # noqa: PLC0415 - pandera is slow to load

    return broken_rules(kind, values)


def _rows_of_row_rule(rule: RowRule, failed: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    """The first columns that a row rule reads, as ``name value``."""
    names = [name for name in rule.columns[:3] if name in cells.columns]
    rows = failed.filter(pl.col("rule") == rule.code, pl.col("column") == "")
    parts = [pl.concat_str(pl.lit(f"{name} "), pl.col(name).fill_null("empty")) for name in names]
    value = (
        cells[rows["row"].to_list()].select(pl.concat_str(parts, separator=", ")).to_series()
        if len(rows) and names
        else pl.repeat("", len(rows), dtype=pl.String, eager=True)  # the file has none of these columns
    )
    return rows.with_columns(pl.lit(rule.columns[0]).alias("column"), value.alias("value"))


def _problem_rows(kind: FileKind, failed: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    """Failures with what stood in the file."""
    found = []
    for name in failed["column"].unique().drop_nulls().to_list():
        if not name:
            continue
        rows = failed.filter(pl.col("column") == name)
        text = (
            cells[name].gather(rows["row"])
            if name in cells.columns
            else pl.repeat(None, rows.height, dtype=pl.String, eager=True)
        )
        found.append(rows.with_columns(text.fill_null("").alias("value")))
    found += [_rows_of_row_rule(rule, failed, cells) for rule in kind.rules]
    return pl.concat([pl.DataFrame(schema=[*failed.schema.items(), ("value", pl.String())]), *found])


def _without_cells(values: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    """The values with these cells (``row``, ``column``) emptied."""
    emptied = [values[name].scatter(part["row"], None) for (name,), part in cells.group_by("column") if name in values.columns]
    return values.with_columns(emptied)


def _without_echoes(
    kind: FileKind, failed: pl.DataFrame, cells: pl.DataFrame, values: pl.DataFrame
) -> tuple[pl.DataFrame, pl.Series]:
    """Failures of row rules without those that only follow from a bad cell, and the rows that cannot go on without that cell.

    Parameters
    ----------
    kind : FileKind
    failed : polars.DataFrame
    cells : polars.DataFrame
        ``row`` and ``column`` of all bad cells.
    values : polars.DataFrame
        With the bad cells emptied.
    """
    if cells.is_empty():
        return failed, pl.Series([], dtype=pl.Int64)
    by_row = pl.col("column") == ""
    left = failed.filter(~(by_row & pl.col("row").is_in(cells["row"].unique().implode())))
    again, needing = [left], list[int]()
    touched = values.with_row_index("row").filter(pl.col("row").is_in(cells["row"].unique().cast(pl.UInt32).implode()))
    for rule in kind.rules:
        broken = touched.filter(~rule.holds.fill_null(value=True))["row"].cast(pl.Int64)
        read = cells.filter(pl.col("column").is_in(list(rule.columns)))["row"].unique()
        needing += broken.filter(broken.is_in(read.implode())).to_list()
        told = broken.filter(~broken.is_in(read.implode())).to_frame("row")
        again.append(told.with_columns(pl.lit("").alias("column"), pl.lit(rule.code).alias("rule")))
    return pl.concat(again), pl.Series(needing, dtype=pl.Int64)


def _texts(kind: FileKind) -> pl.DataFrame:
    """What every code says, by rule and column."""
    own = [(rule.code, rule.column, rule.allowed, rule.hint) for rule in rules(kind.name)]
    return pl.DataFrame(own, schema=["rule", "column", "own_allowed", "own_hint"], orient="row")


def explained(kind: FileKind, problems: pl.DataFrame, severity: str = "error") -> pl.DataFrame:
    """Problems (``row``, ``column``, ``value``, ``rule``) with what is allowed and what to do."""
    allowed = {code: rule.allowed for code, rule in INTAKE_RULES.items()}
    hint = {code: rule.hint for code, rule in INTAKE_RULES.items()}
    return (
        problems.join(
            _texts(kind).unique(["rule", "column"], keep="first"), on=["rule", "column"], how="left", maintain_order="left"
        )
        .with_columns(
            pl.coalesce("own_allowed", pl.col("rule").replace_strict(allowed, default="")).alias("allowed"),
            pl.coalesce("own_hint", pl.col("rule").replace_strict(hint, default="")).alias("hint"),
            pl.lit(severity).alias("severity"),
            pl.col("value").fill_null("").str.slice(0, _LONGEST_VALUE),
        )
        .select(list(ROW_PROBLEMS))
    )


_FOUND = {"row": pl.Int64(), "column": pl.String(), "value": pl.String(), "rule": pl.String()}


def _missing_references(kind: FileKind, values: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Rows that name a player or session that is not there, or a session of somebody else."""
    tables = {"players": known.players, "sessions": known.sessions}
    found = [pl.DataFrame(schema=_FOUND)]
    for reference in kind.references:
        there = tables[reference.kind]
        if there is None:
            continue
        name = reference.column
        lost = values.select(name).unique().drop_nulls().join(there.select(name), on=name, how="anti")
        found.append(_rows_with(values, lost, name, reference.code))
        if reference.kind == "sessions":
            owners = there.select("session_id", pl.col("player_id").alias("owner"))
            pairs = values.select("session_id", "player_id").unique().join(owners, on="session_id")
            others = pairs.filter(pl.col("owner") != pl.col("player_id")).select("session_id", "player_id")
            found.append(_rows_with(values, others, "player_id", "other_players_session"))
    return pl.concat(found)


def _rows_with(values: pl.DataFrame, wanted: pl.DataFrame, column: str, code: str) -> pl.DataFrame:
    """All rows that agree with one of the wanted ones, as problems of that column."""
    if wanted.is_empty():
        return pl.DataFrame(schema=_FOUND)
    rows = values.select(wanted.columns).with_row_index("row").join(wanted, on=wanted.columns, how="semi", maintain_order="left")
    return rows.select(
        pl.col("row").cast(pl.Int64), pl.lit(column).alias("column"), pl.col(column).alias("value"), pl.lit(code).alias("rule")
    )


_FIRST_YEAR = 2000
_WHEN = ("started_at", "played_on", "date", "week_ending")


def _long_ago(kind: FileKind, values: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    """Rows of a day on which nobody measured anything: a clock that was never set begins with 1970 or 1980."""
    found = [pl.DataFrame(schema=_FOUND)]
    for name in (name for name in _WHEN if name in kind.names and name in cells.columns):
        rows = (values[name].dt.year() < _FIRST_YEAR).arg_true()
        told = pl.DataFrame({"row": rows.cast(pl.Int64), "value": cells[name].gather(rows)})
        found.append(told.select("row", pl.lit(name).alias("column"), "value", pl.lit("long_ago").alias("rule")))
    return pl.concat(found)


def _private(kind: FileKind, values: pl.DataFrame, known: Known) -> pl.Series:
    if kind.name == "decisions" and known.refused is not None:
        return known.refused.about_body(values)
    if not kind.body or known.players is None:
        return pl.repeat(value=False, n=values.height, dtype=pl.Boolean, eager=True)
    agreed = known.players.filter(pl.col("health_consent"))["player_id"]
    return ~values["player_id"].is_in(agreed.to_list()).fill_null(value=False)


def _consent_problems(values: pl.DataFrame, private: pl.Series, known: Known) -> pl.DataFrame:
    there = known.players["player_id"].to_list() if known.players is not None else []
    told = private if known.refused is not None else private & values["player_id"].is_in(there).fill_null(value=False)
    return (
        values.with_row_index("row")
        .filter(told)
        .select(
            pl.col("row").cast(pl.Int64),
            pl.lit("player_id").alias("column"),
            pl.col("player_id").alias("value"),
            pl.lit(CONSENT_CODE).alias("rule"),
        )
    )


def _veiled(problems: pl.DataFrame, private: pl.Series) -> pl.DataFrame:
    """No cell of a private row stays in a problem, except the id of the player who is to be asked."""
    rows = private.arg_true().cast(pl.Int64).implode()
    keeps = (pl.col("column") == "player_id") & pl.col("value").str.contains(ID_PATTERN)
    return problems.with_columns(pl.when(pl.col("row").is_in(rows) & ~keeps).then(pl.lit("")).otherwise("value").alias("value"))


def _duplicates(kind: FileKind, values: pl.DataFrame, file: pl.Series, bad: pl.Series) -> pl.DataFrame:
    """Later rows of equal key within a file, among rows that are otherwise good: the first stays."""
    rows = values.select(kind.key).with_columns(file.alias("_file")).with_row_index("row").filter(~bad)
    later = rows.filter(~pl.struct("_file", *kind.key).is_first_distinct())
    return later.select(
        pl.col("row").cast(pl.Int64),
        pl.lit(kind.key[-1]).alias("column"),
        row_key(kind.key).fill_null("").alias("value"),
        pl.lit("duplicate").alias("rule"),
    )


def _marked(height: int, rows: pl.Series) -> pl.Series:
    flags = np.zeros(height, dtype=bool)
    flags[rows.to_numpy()] = True
    return pl.Series(flags)


def checked(kind: FileKind, cells: pl.DataFrame, file: pl.Series, time_zone: str, known: Known) -> Checked:
    """Check a batch of rows of one kind.

    Parameters
    ----------
    kind : FileKind
    cells : polars.DataFrame, n rows
        Text.
    file : polars.Series, n
        Which file each row is of; rows of one file are in the file's order.
    time_zone : str
    known : Known
    """
    values, unread = typed(kind, cells, time_zone)
    failed = _failures(kind, values)
    of_cells = pl.concat([unread, _failed_cells(kind, failed, unread, cells)])
    is_required = pl.col("column").is_in(list(kind.required))
    bad_cells = of_cells.select("row", "column").unique(maintain_order=True)
    values = _without_cells(values, bad_cells.filter(~is_required))
    by_row, needing = _without_echoes(kind, failed.filter(pl.col("column") == ""), bad_cells, values)
    private = _private(kind, values, known)
    of_rows = pl.concat(
        [
            of_cells.filter(is_required),
            _problem_rows(kind, by_row, cells).select(unread.columns),
            _missing_references(kind, values, known),
            _consent_problems(values, private, known),
            _long_ago(kind, values, cells),
        ]
    )
    bad = _marked(values.height, pl.concat([of_rows["row"], needing]))
    of_rows = pl.concat([of_rows, _duplicates(kind, values, file, bad)])
    bad |= _marked(values.height, of_rows["row"])
    problems = _with_severity(explained(kind, of_rows), explained(kind, of_cells.filter(~is_required), EMPTIED), bad)
    return Checked(values, _veiled(problems, private), bad, private)


def _failed_cells(kind: FileKind, failed: pl.DataFrame, unread: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    """Cells that the contract refuses; not those that could not be read, which are empty by now."""
    told = failed.filter(pl.col("column") != "").join(unread, on=["row", "column"], how="anti", maintain_order="left")
    return _problem_rows(kind, told, cells).select(unread.columns)


def _with_severity(of_rows: pl.DataFrame, of_cells: pl.DataFrame, bad: pl.Series) -> pl.DataFrame:
    """All problems; a cell of a row that is refused anyway is one of the row's problems."""
    refused = bad.gather(of_cells["row"])
    severity = pl.when(refused).then(pl.lit("error")).otherwise("severity").alias("severity")
    return pl.concat([of_rows, of_cells.with_columns(severity)])
