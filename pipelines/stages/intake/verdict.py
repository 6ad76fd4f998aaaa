"""What becomes of each file of a batch: its rows counted, its problems gathered, held or loaded."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.stages.intake.batch import Incoming, Rows
from pipelines.stages.intake.check import EMPTIED, ROW_PROBLEMS, Checked, Known, checked, explained
from pipelines.stages.intake.clocks_back import shown_twice
from pipelines.stages.intake.plausible import swapped_units, warning_rows
from pipelines.stages.intake.rules import CONSENT_CODE, INTAKE_RULES, REFERENCE_CODES
from pipelines.stages.intake.table import LOOKED_UP, Cells, Unread
from pipelines.stages.intake.whole_file import looks_wrong
from warehouse.keys import row_key

if TYPE_CHECKING:
    from schemas.files import FileKind

_MOST_NAMED = 3
_NO_NAME = ("unsafe_id", "unknown_player")
"""What is said of a name that is nobody's, as if it were an id."""

PROBLEM_COLUMNS = {
    "file": pl.Int32(),
    "line": pl.Int64(),
    **{n: t for n, t in ROW_PROBLEMS.items() if n != "row"},
    "row_key": pl.String(),
}


@dataclass(frozen=True)
class FileVerdict:
    """What becomes of one file.

    Attributes
    ----------
    n_rows, n_loaded, n_quarantined, n_emptied, n_warnings, n_ignored : int
        ``n_emptied`` counts cells of loaded rows.
    reason : str
        Code when the file is held as a whole; empty when it is loaded.
    private_lines : tuple of int
        Lines of rows of which nothing may be kept.
    """

    n_rows: int
    n_loaded: int
    n_quarantined: int
    n_emptied: int
    n_warnings: int
    n_ignored: int
    reason: str
    private_lines: tuple[int, ...]


@dataclass(frozen=True)
class BatchVerdict:
    """What becomes of a batch.

    Attributes
    ----------
    files : tuple of FileVerdict
        In the order of the batch.
    problems : polars.DataFrame
        Columns of ``PROBLEM_COLUMNS``; ``file`` is the position in the batch.
    good : polars.DataFrame
        Typed rows to load, with ``file`` and ``line``.
    rejected : polars.DataFrame
        Text cells of the rows in quarantine that may be kept, with ``file``.
    """

    files: tuple[FileVerdict, ...]
    problems: pl.DataFrame
    good: pl.DataFrame
    rejected: pl.DataFrame


def _count(rows: pl.Series, n_files: int) -> np.ndarray:
    return np.bincount(rows.to_numpy(), minlength=n_files)[:n_files] if rows.len() else np.zeros(n_files, dtype=np.int64)


def _placed(kind: FileKind, problems: pl.DataFrame, rows: Rows, result: Checked) -> pl.DataFrame:
    """Problems of rows with file, line and key of the row."""
    at = problems["row"]
    return problems.with_columns(
        rows.file.gather(at).cast(pl.Int32).alias("file"), rows.line.gather(at).alias("line"), _keys(kind, result, at)
    ).select(list(PROBLEM_COLUMNS))


def _keys(kind: FileKind, result: Checked, at: pl.Series) -> pl.Series:
    """Keys of these rows as text; empty where a part of it is missing, or nothing of the row may be kept."""
    needed = [name for name in kind.key if name in kind.required]
    whole = pl.all_horizontal(pl.col(name).is_not_null() for name in needed)
    rows = result.values.select(kind.key).with_columns(result.private.alias("private"))[at.to_list()]
    key = pl.when(whole & ~pl.col("private")).then(row_key(kind.key)).fill_null("")
    return rows.select(key.alias("row_key")).to_series()


def file_problem(place: int, unread: Unread) -> dict[str, object]:
    """The problem of a file that is held as a whole."""
    rule = INTAKE_RULES[unread.rule]
    return {
        "file": place, "line": None, "column": unread.column, "value": unread.value[:200], "rule": unread.rule,
        "allowed": rule.allowed, "hint": unread.hint or rule.hint, "severity": "held", "row_key": "",
    }  # fmt: skip


def _file_level(kind: FileKind, batch: list[Incoming]) -> list[dict[str, object]]:
    """Problems of whole files, rows that could not be split, and columns that were left out."""
    found: list[dict[str, object]] = []
    for place, incoming in enumerate(batch):
        content = incoming.content
        if isinstance(content, Unread):
            found.append(file_problem(place, content))
            continue
        strangers = [name for name in content.header if name not in kind.names]
        found += [
            {**_problem_rows(place, None, name, name, "unknown_column", "warning"), **_near_column(kind, name)}
            for name in strangers
        ]
        if isinstance(content, Cells):
            found += [_problem_rows(place, None, name, name, "mapped_column_missing", "warning") for name in content.missing]
            found += [_problem_rows(place, None, "", name, "other_sheet", "warning") for name in content.other_sheets]
            found += [
                _problem_rows(place, fault.line, "", _shown_fault(kind, fault.value), fault.rule, "error")
                for fault in content.faults
            ]
    return found


def _near_column(kind: FileKind, name: str) -> dict[str, str]:
    """What to do about one of our columns with more behind its name, a unit mostly."""
    ours = next((own for own in kind.names if re.match(rf"{own}\W", name)), "")
    hint = f"The column was left out: write {ours} alone above it. In another unit than ours it is read through a mapping."
    return {"hint": hint} if ours else {}


def _shown_fault(kind: FileKind, value: str) -> str:
    """A row that cannot be split cannot be told to be somebody's who agreed: nothing of a body row is shown."""
    return "" if kind.body else value


def _problem_rows(place: int, line: int | None, column: str, value: str, code: str, severity: str) -> dict[str, object]:
    rule = INTAKE_RULES[code]
    return {
        "file": place, "line": line, "column": column, "value": value[:200], "rule": code,
        "allowed": rule.allowed, "hint": rule.hint, "severity": severity, "row_key": "",
    }  # fmt: skip


def _mostly_bad(n_faulty: np.ndarray, n_rows: np.ndarray) -> np.ndarray:
    return 2 * n_faulty > n_rows


@dataclass(frozen=True)
class _Counts:
    """Of each file: rows, rows not to be loaded, those at fault themselves, and those that only wait for another file."""

    n_rows: np.ndarray
    n_bad: np.ndarray
    n_faulty: np.ndarray
    n_waiting: np.ndarray


def _counts(batch: list[Incoming], rows: Rows, result: Checked) -> _Counts:
    faults = np.array([len(i.content.faults) if isinstance(i.content, Cells) else 0 for i in batch], dtype=np.int64)
    unread = np.array([i.content.n_rows if isinstance(i.content, Unread) else 0 for i in batch], dtype=np.int64)
    n_rows = _count(rows.file, len(batch)) + faults + unread
    reasons = result.problems.filter(pl.col("severity") == "error", pl.col("rule") != CONSENT_CODE)
    lost = reasons["rule"].is_in(list(REFERENCE_CODES[:2]))
    own = reasons.filter(~lost)["row"].unique()
    waiting = reasons.filter(lost & ~reasons["row"].is_in(own.implode()))["row"].unique()
    n_faulty = _count(rows.file.gather(own), len(batch)) + faults
    n_bad = _count(rows.file.filter(result.bad), len(batch)) + faults
    return _Counts(n_rows, n_bad, n_faulty, _count(rows.file.gather(waiting), len(batch)))


def _awaited(result: Checked, rows: Rows, place: int) -> str:
    """What a file waits for, in words: ``players P7, P8; sessions S1 and 3 more``."""
    own = result.problems.filter(rows.file.gather(result.problems["row"]) == place)
    told = []
    for code, what in (("unknown_player", "players"), ("unknown_session", "sessions")):
        names = own.filter(pl.col("rule") == code)["value"].unique(maintain_order=True).to_list()
        more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
        told += [f"{what} {', '.join(names[:_MOST_NAMED])}{more}"] if names else []
    return "; ".join(told)


def _each_once(problems: pl.DataFrame, waiting: list[int]) -> pl.DataFrame:
    """Of files that wait for another, each name that they wait for once, at its first line."""
    if not waiting:
        return problems
    named = pl.col("file").is_in(waiting) & pl.col("rule").is_in(list(REFERENCE_CODES[:2]))
    return problems.filter(~named | pl.struct("file", "rule", "value").is_first_distinct())


def _reasons(
    kind: FileKind, batch: list[Incoming], rows: Rows, result: Checked, counts: _Counts, known: Known
) -> tuple[list[str], list[dict[str, object]]]:
    """Why each file is held as a whole (empty: it is not), and the problems that say so."""
    told: list[dict[str, object]] = []
    good, of_file = result.values.filter(~result.bad), rows.file.filter(~result.bad)
    swapped = swapped_units(kind, good, of_file)
    wrong = looks_wrong(kind, good, of_file, known)
    bad = _mostly_bad(counts.n_faulty, counts.n_rows)
    waits = _mostly_bad(counts.n_faulty + counts.n_waiting, counts.n_rows)
    reasons = []
    for place, incoming in enumerate(batch):
        if isinstance(incoming.content, Unread):
            reasons.append(incoming.content.rule)
        elif place in swapped and not incoming.arrival.accepted:
            reasons.append("units_look_swapped")
            told.append(file_problem(place, Unread("units_look_swapped", swapped[place])))
        elif place in wrong and not incoming.arrival.accepted:
            reasons.append("values_look_wrong")
            told.append(file_problem(place, Unread("values_look_wrong", wrong[place])))
        elif bad[place]:
            reasons.append("mostly_bad")
            told.append(file_problem(place, Unread("mostly_bad", f"{counts.n_faulty[place]} of {counts.n_rows[place]} rows")))
        elif waits[place]:
            reasons.append("waits_for_others")
            hint = INTAKE_RULES["waits_for_others_unkept"].hint if kind.body else ""
            told.append(file_problem(place, Unread("waits_for_others", _awaited(result, rows, place), hint=hint)))
        else:
            reasons.append("")
    return reasons, told


def _made_of_nobody(problems: pl.DataFrame, batch: list[Incoming], rows: Rows, at: pl.Series) -> pl.Series:
    """What is said beside a name of nobody: ids that were made of it, and that it is no player's id. The name is told once."""
    named = [
        place
        for place, one in enumerate(batch)
        if isinstance(one.content, Cells) and one.content.origin.get("player_id", "").endswith(LOOKED_UP)
    ]
    if not named:
        return pl.repeat(False, problems.height, eager=True)
    is_name, is_unsafe = pl.col("column") == "player_id", pl.col("rule") == "unsafe_id"
    nobody = at.filter(problems.select(is_name & is_unsafe & pl.col("file").is_in(named)).to_series()).unique()
    told = problems.select("column", "rule", "value").with_columns(rows.cells["player_id"].gather(at).alias("name"))
    made_of_it = is_unsafe & ~is_name & pl.col("value").str.contains(pl.col("name"), literal=True)
    follows = (made_of_it | (is_name & (pl.col("rule") == "unknown_player"))).fill_null(value=False)
    return told.select(follows).to_series() & at.is_in(nobody.implode())


def _foreign(kind: FileKind, problems: pl.DataFrame, batch: list[Incoming], rows: Rows, at: pl.Series) -> pl.DataFrame:
    """Where a mapping renamed columns: what stood in the file, and under which name there."""
    contents = {
        place: i.content for place, i in enumerate(batch) if isinstance(i.content, Cells) and i.content.originals is not None
    }
    if not contents:
        return problems
    first = {place: int((rows.file == place).arg_true()[0]) for place in contents if (rows.file == place).any()}
    value, hint = problems["value"].to_list(), problems["hint"].to_list()
    columns, codes = problems["column"].to_list(), problems["rule"].to_list()
    native = {CONSENT_CODE, "duplicate", *REFERENCE_CODES, *(rule.code for rule in kind.rules)}
    for row, (file, position) in enumerate(zip(problems["file"].to_list(), at.to_list(), strict=True)):
        content = contents.get(file)
        if content is None or columns[row] not in content.origin or not value[row]:
            continue
        cells = content.originals
        if cells is not None and columns[row] in cells.columns and codes[row] not in native:
            value[row] = (cells[columns[row]][position - first[file]] or "")[:200]
        if content.origin[columns[row]].endswith(LOOKED_UP) and codes[row] in _NO_NAME and cells is not None:
            value[row] = (cells[columns[row]][position - first[file]] or "")[:200]
            hint[row] = (
                f'Write "{value[row]}" = "ID" below [players] in mappings/names.toml, with the id of the player; '
                "the file is then read anew."
            )
        elif columns[row] == "player_id" and codes[row] == "unsafe_id":
            hint[row] = "Where the export names its players, write names = true below [columns.player_id] in the mapping."
        hint[row] = f"{hint[row]} In the file: column {content.origin[columns[row]]}."
    return problems.with_columns(pl.Series("value", value, dtype=pl.String), pl.Series("hint", hint, dtype=pl.String))


def _problems(
    kind: FileKind,
    batch: list[Incoming],
    rows: Rows,
    result: Checked,
    reasons: list[str],
    extra: list[dict[str, object]],
    loaded: pl.Series,
    known: Known,
    time_zone: str,
) -> pl.DataFrame:
    at = result.problems["row"]
    severity = pl.when((pl.col("severity") == EMPTIED) & ~loaded.gather(at)).then(pl.lit("error")).otherwise("severity")
    placed = _placed(kind, result.problems.with_columns(severity.alias("severity")), rows, result)
    caused = _made_of_nobody(placed, batch, rows, at)
    placed, at = placed.filter(~caused), at.filter(~caused)
    waiting = [place for place, reason in enumerate(reasons) if reason == "waits_for_others"]
    errors = _each_once(_foreign(kind, placed, batch, rows, at), waiting)
    warned = warning_rows(kind, result.values, rows.file, loaded, known)
    twice = shown_twice(kind, rows.cells, result.values, rows.file, time_zone)
    twice = twice.filter(loaded.gather(twice["row"]))
    warnings = _placed(kind, explained(kind, pl.concat([warned, twice]), "warning"), rows, result)
    files = pl.DataFrame(_file_level(kind, batch) + extra, schema=PROBLEM_COLUMNS)
    return pl.concat([files, errors, warnings])


def judged(kind: FileKind, batch: list[Incoming], rows: Rows, time_zone: str, known: Known) -> BatchVerdict:
    """Check a batch and decide about each of its files.

    Parameters
    ----------
    kind : FileKind
    batch : list of Incoming
    rows : Rows
        From :func:`pipelines.stages.intake.batch.assembled`.
    time_zone : str
    known : Known
    """
    result = checked(kind, rows.cells, rows.file, time_zone, known)
    counts = _counts(batch, rows, result)
    reasons, told = _reasons(kind, batch, rows, result, counts, known)
    held = (
        pl.Series([bool(reason) for reason in reasons], dtype=pl.Boolean).gather(rows.file)
        if batch
        else pl.Series([], dtype=pl.Boolean)
    )
    loaded = ~result.bad & ~held
    problems = _problems(kind, batch, rows, result, reasons, told, loaded, known, time_zone)
    n_told = {each: _count(problems.filter(pl.col("severity") == each)["file"], len(batch)) for each in (EMPTIED, "warning")}
    verdicts = tuple(
        _verdict(incoming, reason, counts, place, n_told, _private_lines(rows, result, place))
        for place, (incoming, reason) in enumerate(zip(batch, reasons, strict=True))
    )
    good = result.values.with_columns(rows.file.alias("file"), rows.line.alias("line")).filter(loaded)
    rejected = rows.cells.with_columns(rows.file.alias("file")).filter((result.bad | held) & ~result.private)
    return BatchVerdict(verdicts, problems, good, rejected)


def _private_lines(rows: Rows, result: Checked, place: int) -> tuple[int, ...]:
    return tuple(rows.line.filter(result.private & (rows.file == place)).to_list())


def _verdict(
    incoming: Incoming, reason: str, counts: _Counts, place: int, n_told: dict[str, np.ndarray], private: tuple[int, ...]
) -> FileVerdict:
    n_rows = int(counts.n_rows[place])
    n_bad = n_rows if reason else int(counts.n_bad[place])
    ignored = incoming.content.n_ignored if isinstance(incoming.content, Cells) else 0
    n_emptied, n_warnings = (int(n_told[each][place]) for each in (EMPTIED, "warning"))
    return FileVerdict(n_rows, n_rows - n_bad, n_bad, n_emptied, n_warnings, ignored, reason, private)


def warned_of(verdict: BatchVerdict) -> list[tuple[tuple[str, int], ...]]:
    """Of each file of a batch, the codes of its warnings and how many there are, the most frequent first.

    Of what is said of the file as a whole, and not of a row, what was found stands behind the code.
    """
    warnings = verdict.problems.filter(pl.col("severity") == "warning")
    of_files = pl.col("line").is_null().alias("of_file")
    named = pl.col("value").head(_MOST_NAMED).str.join(", ")
    more = pl.when(pl.len() > _MOST_NAMED).then(pl.lit(", ...")).otherwise(pl.lit(""))
    counts = (
        warnings.group_by("file", "rule", of_files, maintain_order=True)
        .agg(pl.len().alias("n"), pl.concat_str(named, more).alias("named"))
        .with_columns(pl.when("of_file").then(pl.format("{}: {}", "rule", "named")).otherwise("rule").alias("rule"))
    )
    ordered = counts.sort("file", "n", "rule", descending=[False, True, False])
    told: list[list[tuple[str, int]]] = [[] for _ in verdict.files]
    for file, rule, n in ordered.select("file", "rule", "n").iter_rows():
        told[file].append((rule, n))
    return [tuple(one) for one in told]
