"""Problems of the intake in the language of a page: what the intake wrote in English, found again by its text, and said anew.

The warehouse and the lists of a file keep the code and the English text. Of a text of another version, of which nothing is known
here, what is said of that code today is told; where that wants values it stays as it was written, and says that it is English.
"""

from __future__ import annotations

import re
import string
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

from markupsafe import Markup

from reports.words import MINUS, NARROW_SPACE, placeholders, unbroken
from reports.words import words as words_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.words import Words

Part = Literal["allowed", "hint", "found"]
TOLD: tuple[Part, ...] = ("allowed", "hint")
"""What every problem says, beside what was found."""

_NUMBER = r"-?\d[\d.]*(?:e[+-]?\d+)?"
_SHAPES = {"unit": r"(?:\s\S+)?", **dict.fromkeys(("low", "high", "most", "times"), _NUMBER)}
"""How a value looks in the English text; any other is whatever stands there."""


_SENTENCES = frozenset({"values_look_wrong", "units_look_swapped", "units_row_differs", "mostly_bad", "waits_for_others"})


def says_a_sentence(rule: str) -> bool:
    """Whether what was found is a sentence of the intake about a whole file, not what stood in a cell."""
    return rule in _SENTENCES


@dataclass(frozen=True)
class Told:
    """A text, and the language that it is in: empty for what stood in a file, which is in none."""

    text: str
    language: str

    def marked(self, page_language: str) -> Markup:
        """For a page: marked where it is in another language than the page."""
        if self.language in ("", page_language):
            return Markup("{}").format(self.text)
        return Markup('<span lang="{}">{}</span>').format(self.language, self.text)


def problem_text(part: Part, rule: str, stored: str, words: Words) -> Told:
    """What is allowed, what to do, or what was found, as the intake stored it, in the words of a page.

    Parameters
    ----------
    part : {"allowed", "hint", "found"}
    rule : str
        Code of the problem.
    stored : str
        The English text; of what was found often only the cell.
    words : Words
    """
    untold = "en" if stored and (part != "found" or says_a_sentence(rule)) else ""
    whole = unbroken(stored) if untold else stored
    if words.language == "en" or not stored:
        return Told(whole, untold)
    text, after = _split(whole, words) if part == "hint" else (whole, "")
    for key in _candidates(part, rule):
        found = _matched(words_of("en").texts[key], text)
        if found is not None:
            return Told(
                words(key, **{name: _localized(name, value, words) for name, value in found.items()}) + after, words.language
            )
    today = f"problem.{part}.{rule}"
    if untold and today in words and not placeholders(words.texts[today]):
        return Told(words(today), words.language)
    return Told(whole, untold)


def _candidates(part: Part, rule: str) -> Iterator[str]:
    """Keys of the texts that may be the one."""
    texts = words_of("en").texts
    if part == "found":
        yield from _below("problem.found.") if says_a_sentence(rule) else ()
        return
    yield from (key for key in (f"problem.{part}.{rule}", f"problem.{part}.{rule}_unkept") if key in texts)
    if part == "hint":
        yield from _below("problem.hint_else.")


@cache
def _below(prefix: str) -> tuple[str, ...]:
    return tuple(key for key in words_of("en").texts if key.startswith(prefix))


def _split(stored: str, words: Words) -> tuple[str, str]:
    """A hint, and what the intake has put behind it, in the words of the page."""
    after = ""
    for key in _below("problem.after."):
        parts = re.fullmatch(rf"(?P<before_it>.*?){_pattern(words_of('en').texts[key])}", stored, re.DOTALL)
        if parts:
            values = parts.groupdict()
            stored = values.pop("before_it")
            after = words(key, **values) + after
    return stored, after


@cache
def _pattern(template: str) -> str:
    """The regular expression of a text with its values."""
    made = ""
    for literal, name, _, _ in string.Formatter().parse(template):
        made += re.escape(literal) + (f"(?P<{name}>{_SHAPES.get(name, '.+')})" if name else "")
    return made


def _matched(template: str, text: str) -> dict[str, str] | None:
    found = re.fullmatch(_pattern(template), text, re.DOTALL)
    return found.groupdict() if found else None


def _localized(name: str, value: str, words: Words) -> str:
    """A value as the language writes it: numbers and units; codes and cells stay as they are."""
    if name == "unit":
        return f"{NARROW_SPACE}{words.either(f'units.{value.strip()}', value.strip())}" if value else ""
    if _SHAPES.get(name) == _NUMBER:
        return value.replace("-", MINUS).replace(".", words.texts["locale.decimal"])
    if name == "quantities":
        return words.listing([words.either(f"metric.{one}", one) for one in value.split(", ")])
    if name in ("players", "sessions"):
        return re.sub(r" and (\d+) more$", lambda more: words("problem.more", n=more[1]), value)
    return value
