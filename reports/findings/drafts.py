"""What a drafted mapping says of columns, in the language of a page: their names, and why one is not sure."""

from __future__ import annotations

import re
import string
from functools import cache
from typing import TYPE_CHECKING

from reports.findings.problems import Told
from reports.words import words as words_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from reports.words import Words

_WHY = "draft.why."


def column_name(name: str, words: Words) -> str:
    """A column of ours, or a part of one, as people call it."""
    region = name.removeprefix("stiff_")
    if region != name:
        return words("draft.stiff", region=words(f"region.{region}"))
    return words.either(f"metric.{name}" if f"metric.{name}" in words.texts else f"draft.column.{name}", name)


def kind_name(kind: str, words: Words) -> str:
    """What files of a kind hold, as people call it."""
    return words.either(f"draft.kind.{kind}", kind)


def why_texts(why: str, words: Words) -> Iterator[Markup]:
    """Each reason of a draft, as it wrote them in English one after the other, in the words of a page."""
    parts = why.split("; ") if why else []
    while parts:
        n = next((n for n in range(len(parts), 0, -1) if _told("; ".join(parts[:n]), words)), 1)
        text = "; ".join(parts[:n])
        yield Told(_told(text, words) or text, words.language if _told(text, words) else "en").marked(words.language)
        parts = parts[n:]


def _told(text: str, words: Words) -> str:
    """One reason in the words of a page; empty when nothing is known of it."""
    for key, pattern in _patterns():
        found = pattern.fullmatch(text)
        if found:
            either = words("draft.or")
            values = {name: re.sub(r" or ", f" {either} ", value) for name, value in found.groupdict().items()}
            return words(key, **values)
    return ""


@cache
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    texts = words_of("en").texts
    found = [(key, _pattern(text)) for key, text in texts.items() if key.startswith(_WHY)]
    return tuple(sorted(found, key=lambda pair: pair[1].groups))


def _pattern(template: str) -> re.Pattern[str]:
    """The regular expression of a text with its values; none of them holds the sign between two reasons."""
    made = ""
    for literal, name, _, _ in string.Formatter().parse(template):
        made += re.escape(literal) + (f"(?P<{name}>(?:(?!; ).)+)" if name else "")
    return re.compile(made, re.DOTALL)
