"""One trial as lines of text, for the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.trials import (
    SPEED,
    cost_sentence,
    else_sentences,
    next_steps,
    scatter_sentence,
    side_words,
    since_sentence,
    title_of,
    verdict_sentence,
    with_end,
)

if TYPE_CHECKING:
    from reports.numbers import Numbers
    from warehouse.marts import Marts


def trial_lines(marts: Marts, numbers: Numbers, trial_id: str) -> list[str]:
    """Title, verdict, what stands side by side, evidence and next steps; empty when there is no such trial."""
    found = {name: marts.rows(f"mart_trial_{name}").filter(pl.col("trial_id") == trial_id) for name in _TABLES}
    if found["result"].is_empty():
        return []
    words, row = numbers.words, found["result"].row(0, named=True) | {"body_side": ""}  # as a coach may read it
    arm, effect, strokes = (_of_best(rows, row) for rows in (found["arm"], _speed(found["effect"]), _home(found["strokes"])))
    lines = [title_of(row, words), with_end(verdict_sentence(row, arm, effect, strokes, numbers), row, words)]
    lines += [f"{name}: {word}" for name, word in side_words(row, effect, strokes, words)]
    if row["state"] == "verdict":
        known = found["arm"].filter(pl.col("left_right_ratio").is_not_null()).sort("amount").to_dicts()
        lines += [scatter_sentence(one, numbers) for one in known]
        lines += [cost_sentence(one, numbers) for one in found["strokes"].to_dicts()]
        lines += else_sentences(found["effect"].to_dicts(), numbers)
        lines.append(since_sentence(found["since"].to_dicts(), words))
    lines += [words.either(f"trial.note_text.{code}", code) for code in row["notes"] if row["state"] != "planned"]
    return lines + next_steps(row, words)


_TABLES = ("result", "arm", "effect", "strokes", "since")


def _of_best(rows: pl.DataFrame, result: dict[str, Any]) -> dict[str, Any] | None:
    best = rows.filter(pl.col("arm") == (result["best_arm"] or "")).to_dicts()
    return best[0] if best else None


def _speed(effects: pl.DataFrame) -> pl.DataFrame:
    return effects.filter(pl.col("metric") == SPEED)


def _home(strokes: pl.DataFrame) -> pl.DataFrame:
    return strokes.filter("is_home")
