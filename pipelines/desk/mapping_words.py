"""Words of a file and what they mean, on the page of a mapping: out of the form into hints for the draft, and onto the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipelines.stages.intake.draft import SIDED
from schemas.regions import REGIONS

if TYPE_CHECKING:
    from pipelines.desk.visit import Visit
    from pipelines.stages.intake import Inspection
    from pipelines.stages.intake.draft import DraftedColumn
    from schemas.fields import Field

MOST_WORDS = 60
"""Words of a column that are asked for at once; the next ones follow when these are settled."""
_LONGEST_WORD = 100
_SAID = "*"
"""What stood in the form of a word that somebody has settled: whatever is chosen now is said again."""
_BY_HAND = tuple(
    region.replace("lead_", side) for region in REGIONS if region.startswith("lead_") for side in ("left_", "right_")
)


def meanings(role: str, quantity: Field) -> tuple[str, ...]:
    """Our words, one of which a word of the file means; empty when the column holds none."""
    if role in SIDED:
        return ("plus", "minus")
    if quantity.kind == "truth":
        return ("true", "false")
    if role == "side":
        return ("left", "right", *quantity.allowed)
    if role == "region":
        return (*(region for region in quantity.allowed if region != "other"), *_BY_HAND, "other")
    return quantity.allowed


def words_of_form(visit: Visit, place: int, offered: tuple[str, ...]) -> tuple[dict[str, str], list[str]]:
    """What was chosen for words of a column where the page proposed something else, and the fields that cannot be used."""
    told: dict[str, str] = {}
    wrong = []
    n = 0
    while word := visit.field(f"word-of-{place}-{n}"):
        chosen = visit.field(f"word-{place}-{n}")
        if chosen not in {"", *offered}:
            wrong.append(f"word-{place}-{n}")
        elif chosen != visit.field(f"word-had-{place}-{n}"):
            told[word.lower()] = chosen
        n += 1
    return told, wrong


def word_rows(
    visit: Visit, place: int, column: DraftedColumn, quantity: Field, told: dict[str, str], found: Inspection | None
) -> dict[str, Any]:
    """Words of a column: not understood, or settled by somebody; understood; and how many more there are.

    Parameters
    ----------
    visit : Visit
    place : int
        Of the column in the file.
    column : DraftedColumn
    quantity : Field
    told : dict
        What was said of words, in lower case.
    found : Inspection or None
        What the whole file would be: a draft looks at its first lines only.
    """
    offered = meanings(column.target, quantity)
    known = {**column.words, **dict.fromkeys(column.plus, "plus"), **dict.fromkeys(column.minus, "minus")}
    strange = _strange(column, found)
    if not offered or not (known or strange):
        return {}
    options = [(each, meaning_text(visit, column.target, each)) for each in offered]
    settled = [word for word in known if word.lower() in told] + [word for word in told if word not in {*map(str.lower, known)}]
    asked = settled + [word for word in strange if word.lower() not in told][:MOST_WORDS]
    others = [word for word in known if word.lower() not in told][:MOST_WORDS]
    rows = [
        {
            "word": word,
            "name": f"word-{place}-{n}",
            "of_name": f"word-of-{place}-{n}",
            "had_name": f"word-had-{place}-{n}",
            "value": known.get(word, told.get(word.lower(), "")),
            "had": _SAID if word.lower() in told else known.get(word, ""),
        }
        for n, word in enumerate((*asked, *others))
    ]
    n_more = max(0, sum(word.lower() not in told for word in strange) - MOST_WORDS)
    return {"asked": rows[: len(asked)], "known": rows[len(asked) :], "options": options, "n_more": n_more}


def _strange(column: DraftedColumn, found: Inspection | None) -> list[str]:
    """Words that are not understood: in the lines that the draft read, and in all others that would not load."""
    words = list(column.strange)
    if found is not None and column.target not in SIDED:
        rows = found.problems.filter(
            (found.problems["column"] == column.target) & found.problems["rule"].is_in(["unknown_word", "not_true_or_false"])
        )
        words += [word for word in rows["value"].to_list() if word.lower() not in {*map(str.lower, words)}]
    short = (" ".join(word.split()) for word in words if word.strip())
    return list(dict.fromkeys(word for word in short if len(word) <= _LONGEST_WORD))


def meaning_text(visit: Visit, target: str, word: str) -> str:
    """One of our words as people here call it."""
    words = visit.words
    if target in SIDED:
        return words(f"desk.mapping.side_{'right' if word == 'plus' else 'left'}")
    if word in {"true", "false"}:
        return words(f"draft.{word}")
    if target == "region":
        return words(f"own_region.{word}" if word != "other" else "region.other")
    return words.either(f"draft.word.{word.replace(' ', '_')}", word)
