"""What a file would be through a mapping, as the page shows it: its first rows, and what would not load."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from reports.findings.drafts import column_name
from reports.findings.problems import TOLD, problem_text
from schemas.files import KINDS

if TYPE_CHECKING:
    from pipelines.desk.visit import Visit
    from pipelines.stages.intake import ReadThrough
    from reports.words import Words
    from schemas.results import FileOutcome

_MOST_ROWS, _MOST_PROBLEMS = 5, 12


def outcome_text(words: Words, outcome: FileOutcome) -> str:
    """What would become of a file, in a sentence."""
    if outcome.reason:
        return words("desk.drop.held_for", reason=words.either(f"rule.{outcome.reason}", outcome.reason.replace("_", " ")))
    if outcome.status != "loaded":
        return words(f"desk.drop.status.{outcome.status}")
    if not outcome.n_quarantined:
        return words.count("desk.drop.loaded_all", outcome.n_loaded)
    rows = words.count("n.rows", outcome.n_rows)
    return words.count("desk.drop.loaded_some", outcome.n_quarantined, loaded=words.number(outcome.n_loaded, 0), rows=rows)


def preview_of(visit: Visit, read: ReadThrough) -> dict[str, Any]:
    """The first rows as they would be read, and what is said of the whole file."""
    outcome, first = read.found.files[0], read.rows.head(_MOST_ROWS)
    names = [name for name in first.columns if name != "line"]
    faults = read.found.problems.sort("severity", "line", nulls_last=False).filter(read.found.problems["severity"] != "warning")
    return {
        "said": outcome_text(visit.words, outcome),
        "heads": [_head(visit, read.kind, name) for name in names],
        "rows": [[_cell(visit, row[name]) for name in names] for row in first.iter_rows(named=True)],
        "problems": [_problem(visit, row) for row in faults.head(_MOST_PROBLEMS).to_dicts()],
        "n_more": max(0, faults.height - _MOST_PROBLEMS),
    }


def _head(visit: Visit, kind: str, name: str) -> tuple[str, str, bool]:
    """Name and unit of a column, and whether it holds numbers."""
    quantity = KINDS[kind].column(name).field
    unit = visit.words.either(f"units.{quantity.unit}", quantity.unit) if quantity.unit else ""
    return column_name(name, visit.words), unit, quantity.kind in {"number", "integer"}


def _cell(visit: Visit, value: Any) -> str:
    words = visit.words
    if value is None:
        return ""
    if isinstance(value, bool):
        return words("draft.true" if value else "draft.false")
    if isinstance(value, float):
        return words.number(value, 0 if value == int(value) else 1 if abs(value) >= 10 else 2)
    if isinstance(value, datetime):
        here = value.replace(tzinfo=UTC).astimezone(ZoneInfo(visit.desk.academy.time_zone))
        return f"{words.short_day(here.date())}, {here:%H:%M}"
    return words.day(value) if isinstance(value, date) else str(value)


def _problem(visit: Visit, row: dict[str, Any]) -> dict[str, Any]:
    words, rule = visit.words, row["rule"]
    told = {str(part): problem_text(part, rule, row[part], words).marked(words.language) for part in TOLD}
    found = problem_text("found", rule, row["value"], words).marked(words.language)
    return {"line": row["line"], "column": row["column"], "found": found, **told}
