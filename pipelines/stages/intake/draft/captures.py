"""What a draft finds outside the rows: in the file's name and in the lines above the header."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.lexicon import listed_words, meaning_of, telling, unit_of
from pipelines.stages.intake.mapping_text import groups_of
from schemas.fields import ID_PATTERN
from schemas.units import UNITS

_DAY_IN_NAME = r"\d{4}-\d{2}-\d{2}"
_ID_IN_NAME = r"[A-Za-z]{1,4}\d{1,5}"
_LINE = r"^\W*([^\W\d][^:=;\t,：]*?)\s*[:=;\t,：]+\s*(.+?)\s*[;,\t]*$"


@dataclass(frozen=True)
class Captures:
    """Values that stand outside the rows.

    Attributes
    ----------
    file_name : str
        Pattern for the file's name; empty when it holds nothing.
    heading : tuple
        Line and pattern.
    names : frozenset of str
        Groups that the patterns find.
    day_form : str
        Form of a captured day; empty when there is none.
    in_heading : frozenset of str
        Groups that lines above the header hold, so that every file names its own.
    """

    file_name: str
    heading: tuple[tuple[int, str], ...]
    names: frozenset[str]
    day_form: str = "%Y-%m-%d"
    in_heading: frozenset[str] = frozenset()


def _in_name(name: str, *, wants_player: bool, wants_day: bool) -> str:
    """A pattern for what stands in the file's name."""
    stem = name.rsplit(".", 1)[0]
    found = []
    if wants_player and (match := re.search(rf"(?:^|[^A-Za-z\d])({_ID_IN_NAME})(?:[^A-Za-z\d]|$)", stem)):
        found.append((match.start(1), f"(?P<player_id>{_ID_IN_NAME})"))
    if wants_day and (match := re.search(_DAY_IN_NAME, stem)):
        found.append((match.start(), f"(?P<day>{_DAY_IN_NAME})"))
    if not found:
        return ""
    found.sort()
    return ".*?".join(pattern for _, pattern in found)


def _headings(above: tuple[str, ...], wanted: set[str]) -> tuple[list[tuple[int, str]], str]:
    """Patterns for lines above the header that name something we want (``Player: P07``), and the form of a day there."""
    groups = {"player_id": "player_id", "name": "player_id", "session": "session_id", "date": "day"}
    found, form = [], ""
    for number, line in enumerate(above, 1):
        match = re.match(_LINE, line)
        meaning = meaning_of(match[1]) if match else None
        concepts = () if meaning is None or meaning.left else meaning.concepts
        group = next((groups[concept] for concept in concepts if concept in groups), "")
        if match is None or group not in wanted or not re.match(r"\S+$" if group != "player_id" else ID_PATTERN, match[2]):
            continue
        if group == "day":
            form, alone = values.day_form([match[2]])
            if not form or not alone:
                continue
        found.append((number, rf"{re.escape(match[1])}\s*[:=;\t,：]+\s*(?P<{group}>\S+?)\s*[;,\t]*$"))
        wanted.discard(group)
    return found, form


def captures_of(above: tuple[str, ...], name: str, wanted: set[str]) -> Captures:
    """What stands outside the rows of what is wanted: ``player_id``, ``session_id``, ``day``."""
    left = set(wanted)
    heading, form = _headings(above, left)
    pattern = _in_name(name, wants_player="player_id" in left, wants_day="day" in left)
    in_heading = frozenset(group for _, text in heading for group in groups_of(text))
    return Captures(pattern, tuple(heading), in_heading | groups_of(pattern), form or "%Y-%m-%d", in_heading)


def units_above(above: tuple[str, ...]) -> dict[str, str]:
    """Units that a line above the header names, by quantity; a quantity with two of them is left out."""
    found: dict[str, set[str]] = {}
    for line in above:
        if not any(word in listed_words("units") for word in telling(line)):
            continue
        for word in re.split(r"[\s,;:：()\[\]]+", line):
            if symbol := unit_of(word):
                found.setdefault(UNITS[symbol].quantity, set()).add(symbol)
    return {quantity: units.pop() for quantity, units in found.items() if len(units) == 1}
