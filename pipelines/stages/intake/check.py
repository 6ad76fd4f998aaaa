"""A batch of rows of one kind against its contract: every reason of every bad row, and which rows are good."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandera.errors
import polars as pl

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.rules import CONSENT_CODE, INTAKE_RULES
from schemas.fields import ID_PATTERN
from schemas.files import FileKind, RowRule
from schemas.files.contract import contract, rules
from schemas.problems import FINDING_SCHEMA
from warehouse.files import row_key

ROW_PROBLEMS = {"row": pl.Int64(), **FINDING_SCHEMA}
_LONGEST_VALUE = 200


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
    """

    players: pl.DataFrame | None
    sessions: pl.DataFrame | None
    now: datetime | None = None
    history: pl.DataFrame | None = None


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
    try:
        contract(kind.name).validate(values, lazy=True)
    except pandera.errors.SchemaErrors as fault:
        cases: pl.DataFrame = fault.failure_cases
        if cases["index"].null_count():
            raise RuntimeError(
                f"the contract of {kind.name} could not be applied: {cases.filter(pl.col('index').is_null())}"
            ) from fault
        by_row = pl.col("schema_context") == "DataFrameSchema"
        return cases.select(
            pl.col("index").cast(pl.Int64).alias("row"),
            pl.when(by_row).then(pl.lit("")).otherwise(pl.col("column")).alias("column"),
            pl.col("check").replace({"not_nullable": "empty"}).alias("rule"),
        )
    return pl.DataFrame(schema={"row": pl.Int64(), "column": pl.String(), "rule": pl.String()})


def _rows_of_row_rule(rule: RowRule, failed: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    """The first columns that a row rule reads, as ``name value``."""
    names = [name for name in rule.columns[:3] if name in cells.columns]
    rows = failed.filter(pl.col("rule") == rule.code, pl.col("column") == "")
    parts = [pl.concat_str(pl.lit(f"{name} "), pl.col(name).fill_null("empty")) for name in names] or [pl.lit("")]
    value = (
        cells[rows["row"].to_list()].select(pl.concat_str(parts, separator=", ")).to_series()
        if len(rows)
        else pl.Series([], dtype=pl.String)
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


def _without_echoes(kind: FileKind, failed: pl.DataFrame, unread: pl.DataFrame) -> pl.DataFrame:
    """Drop what only follows from a cell that could not be read: its emptiness, and row rules that needed it."""
    if unread.is_empty() or failed.is_empty():
        return failed
    cells = unread.select("row", "column").unique()
    left = failed.join(cells, on=["row", "column"], how="anti", maintain_order="left")
    for rule in kind.rules:
        rows = cells.filter(pl.col("column").is_in(list(rule.columns)))["row"].unique().to_list()
        left = left.filter(~((pl.col("rule") == rule.code) & (pl.col("column") == "") & pl.col("row").is_in(rows)))
    return left


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


def _private(kind: FileKind, values: pl.DataFrame, known: Known) -> pl.Series:
    if not kind.body or known.players is None:
        return pl.repeat(value=False, n=values.height, dtype=pl.Boolean, eager=True)
    agreed = known.players.filter(pl.col("health_consent"))["player_id"]
    return ~values["player_id"].is_in(agreed.to_list()).fill_null(value=False)


def _consent_problems(values: pl.DataFrame, private: pl.Series, known: Known) -> pl.DataFrame:
    there = known.players["player_id"].to_list() if known.players is not None else []
    return (
        values.with_row_index("row")
        .filter(private & values["player_id"].is_in(there).fill_null(value=False))
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


def _marked(height: int, problems: pl.DataFrame) -> pl.Series:
    flags = np.zeros(height, dtype=bool)
    flags[problems["row"].to_numpy()] = True
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
    failed = _without_echoes(kind, _failures(kind, values), unread)
    private = _private(kind, values, known)
    found = pl.concat(
        [
            unread,
            _problem_rows(kind, failed, cells).select(unread.columns),
            _missing_references(kind, values, known),
            _consent_problems(values, private, known),
        ]
    )
    bad = _marked(values.height, found)
    found = pl.concat([found, _duplicates(kind, values, file, bad)])
    problems = _veiled(explained(kind, found), private)
    return Checked(values, problems, _marked(values.height, found), private)
