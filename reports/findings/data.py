"""Sentences about files, problems, coverage and devices."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.flags import metric_name
from reports.findings.trend import change_text, end_text, ends_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl

    from reports.numbers import Numbers
    from reports.words import Words


def files_sentence(files: pl.DataFrame, words: Words) -> str:
    """How many files came, how many rows were taken and how many wait."""
    if files.is_empty():
        return words("data.no_files")
    rows, loaded, waiting = (int(files[name].sum()) for name in ("n_rows", "n_loaded", "n_quarantined"))
    held = files.filter(files["status"] == "held").height
    values = {"rows": words.number(rows, 0), "loaded": words.number(loaded, 0), "waiting": words.number(waiting, 0)}
    said = words.count("data.files", files.height, **values)
    return said if not held else f"{said} {words.count('data.held', held)}"


def problems_sentence(n_groups: int, n_problems: int, words: Words) -> str:
    """How much waits for a person."""
    if not n_groups:
        return words("data.no_problems")
    return words.count("data.problems", n_problems, groups=words.count("data.groups", n_groups))


def rule_name(rule: str, words: Words) -> str:
    """A rule of the intake in words; an unknown code stands as it is."""
    return words.either(f"rule.{rule}", rule.replace("_", " "))


def offset_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """What a device reads above the one it is compared with, and the error: in per cent where changes are relative."""
    words = numbers.words
    return words(
        "data.offset" if row["error"] is not None else "data.offset_untold",
        metric=metric_name(row["metric"], words),
        offset=change_text(row["metric"], row["offset"], numbers),
        error=end_text(row["metric"], row["error"], numbers).lstrip("+"),
        basis=words(
            f"data.basis.{row['basis'].replace(' ', '_')}",
            bridges=words.number(row["n_bridges"], 0),
            day=words.day(row["from_on"]),
        ),
    )


def suspicion_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """What became of the suspicion of a device: why it closed, what a person said, and whether it is taken off.

    Parameters
    ----------
    row : mapping
        A row of ``mart_device_suspicion``.
    numbers : Numbers
    """
    words, metric = numbers.words, row["metric"]
    parts = [
        words(
            "data.suspected.said",
            device=row["device_id"],
            metric=metric_name(metric, words),
            day=words.day(row["raised_on"]),
            move=change_text(metric, row["value"], numbers),
            interval=ends_text(row, "low", "high", metric, numbers),
            sessions=words.count("n.sessions", row["n"]),
        )
    ]
    if row["closed_on"] is None:
        parts.append(words("data.suspected.open"))
    else:
        why = words.either(f"closing.{row['closed_because']}", row["closed_because"])
        parts.append(words("data.suspected.closed", day=words.day(row["closed_on"]), why=why))
    if row["decision"] is not None:
        decision = words.either(f"decision.{row['decision'].replace(' ', '_')}", row["decision"])
        parts.append(words("data.suspected.decided", day=words.day(row["decided_on"]), decision=decision))
    if row["is_taken_off"]:
        said_last = row["decision"] or row["closed_because"]
        key = "overruled" if said_last in {"players", "unclear"} else "kept"
        offset = change_text(metric, row["taken_off"], numbers)
        parts.append(words(f"data.suspected.{key}", offset=offset, day=words.day(row["taken_off_on"])))
    return " ".join(parts)
