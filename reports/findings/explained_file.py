"""What is said of a file when somebody asks: what became of it, what is wrong in which line, and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.data import rule_name
from reports.findings.problems import problem_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl

    from reports.words import Words


def file_told(file: Mapping[str, Any], problems: pl.DataFrame, listed: str, words: Words) -> list[str]:
    """Sentences about a file, then one for each problem.

    Parameters
    ----------
    file : mapping
        ``name``, ``status``, ``received_at``, ``kept_as``, ``redacted``.
    problems : polars.DataFrame
        From :func:`warehouse.problems.told_together`.
    listed : str
        Where the whole list of problems lies; empty when there is none.
    words : Words
    """
    status = words.either(f"file_status.{file['status']}", file["status"])
    told = [words("explain.file", name=file["name"], status=status, day=words.day(file["received_at"].date()))]
    if file["kept_as"]:
        told.append(words("explain.file_redacted" if file["redacted"] else "explain.file_kept", place=file["kept_as"]))
    told += [_problem(row, words) for row in problems.iter_rows(named=True)] or [words("explain.file_fine")]
    return [*told, words("explain.file_list", place=listed)] if listed else told


def problem_told(rule: str, allowed: str, hint: str, words: Words) -> str:
    """What a rule allows, where it is the same everywhere, and what to do."""
    parts = [f"{rule_name(rule, words)}."]
    parts += [words("explain.allowed", allowed=_text("allowed", rule, allowed, words))] if allowed else []
    return " ".join([*parts, words("explain.todo", todo=_text("hint", rule, hint, words))])


def _text(part: Any, rule: str, stored: str, words: Words) -> str:
    return problem_text(part, rule, stored, words).text


def _problem(row: Mapping[str, Any], words: Words) -> str:
    where = [] if row["line"] is None else [_line(row["line"], row["n"], words)]
    where += [words("explain.file_column", column=row["column"])] if row["column"] else []
    found = f"{_text('found', row['rule'], row['value'], words)} – " if row["value"] else ""
    said = f"- {', '.join(where)}: " if where else "- "
    return f"{said}{found}{problem_told(row['rule'], row['allowed'], row['hint'], words)}"


def _line(line: int, n: int, words: Words) -> str:
    first = words.number(line, 0)
    return words("explain.file_line", line=first) if n == 1 else words.count("explain.file_more", n - 1, line=first)
