"""All texts of the pages, one file per language, and the language's way to write numbers and days.

A text is found by its key (``words("squad.title")``) and filled by name (``words("today.count", n="3")``).
``words.count("n.shots", 3)`` picks ``n.shots.one`` or ``n.shots.other``. Texts hold no markup; pages escape them.
They are written with plain spaces; :func:`unbroken` keeps a number and its unit on one line.

DEVELOPERS.md says how a language is added; tests compare keys and placeholders of all files.
"""

from __future__ import annotations

import re
import string
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from schemas.academy import LANGUAGES
from schemas.errors import RenderError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime

_MOST_TOGETHER = 4
"""Figures before the decimal mark that stand without a space."""
_FURTHER_DIGITS = 2
"""Decimals, and one more, by which an end of an interval may be told from zero; what lies closer is said in words."""
_NOTHING = 1e-9
"""What arithmetic leaves of zero."""
NARROW_SPACE = "\N{NARROW NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"

_UNIT = r"(?:%|°C|\{unit\}|(?:mph|km/h|m/s|ft/s|rpm|deg|yd|ft|km|mm|cm|m|hPa|kB|MB|GB|min|ms|h|s)(?![\w/]))"
_BEFORE_UNIT = re.compile(rf"(?<=[\d}}]) (?={_UNIT})")
_BEFORE_SIGN = re.compile(r"(?<=\d)-(?=%)")


def unbroken(text: str) -> str:
    """The text with a number and its unit or per-cent sign held together: no line ends between them, on screen and on paper.

    A number is a figure or a value to be filled in (``{n} %``); the hyphen of ``90-%`` holds as well.
    """
    return _BEFORE_SIGN.sub("\N{NON-BREAKING HYPHEN}", _BEFORE_UNIT.sub(NARROW_SPACE, text))


def _flat(prefix: str, tree: Mapping[str, Any]) -> dict[str, str]:
    found: dict[str, str] = {}
    for key, value in tree.items():
        name = f"{prefix}.{key}" if prefix else key
        if isinstance(value, dict):
            found.update(_flat(name, value))
        elif isinstance(value, list):
            found.update({f"{name}.{number}": unbroken(text) for number, text in enumerate(value)})
        else:
            found[name] = unbroken(str(value))
    return found


def placeholders(text: str) -> frozenset[str]:
    """Names that a text wants filled in."""
    return frozenset(name for _, name, _, _ in string.Formatter().parse(text) if name)


@dataclass(frozen=True, eq=False)
class Words:
    """The texts of one language.

    Attributes
    ----------
    language : str
    texts : mapping of str to str
        Key to text; nested tables of the file are joined by dots, lists are numbered from 0.
    """

    language: str
    texts: Mapping[str, str]

    def __call__(self, key: str, /, **values: object) -> str:
        """The text of that key, filled in.

        Raises
        ------
        RenderError
            When the key or a value is missing.
        """
        text = self.texts.get(key)
        if text is None:
            raise RenderError(f"reports/words/{self.language}.toml has no text {key!r}.", "Add it to every language.")
        try:
            return text.format(**values)
        except (KeyError, IndexError) as missing:
            raise RenderError(f"The text {key!r} wants a value for {missing}.", "Pass it by name.") from missing

    def __contains__(self, key: str) -> bool:
        """Whether there is a text of that key."""
        return key in self.texts

    def either(self, key: str, otherwise: str) -> str:
        """The text of that key where there is one, else ``otherwise``: for codes that files may hold and we do not know."""
        return self.texts.get(key, otherwise)

    def count(self, key: str, n: int, **values: object) -> str:
        """The singular or plural text of that key, with ``{n}`` written as a number; of none where there is a text for it."""
        form = "one" if n == 1 else "none" if n == 0 and f"{key}.none" in self.texts else "other"
        return self(f"{key}.{form}", n=self.number(n, 0), **values)

    def lines(self, key: str) -> list[str]:
        """The texts of a list, in order."""
        found: list[str] = []
        while f"{key}.{len(found)}" in self.texts:
            found.append(self.texts[f"{key}.{len(found)}"])
        return found

    def listing(self, items: list[str]) -> str:
        """``a, b and c``."""
        if len(items) < 2:
            return "".join(items)
        return f"{', '.join(items[:-1])} {self('locale.and')} {items[-1]}"

    def end(self, value: float, digits: int) -> str:
        """The signed end of an interval: one that is not zero is never printed as zero, so that its side of zero is seen."""
        further = next((more for more in range(_FURTHER_DIGITS) if round(value, digits + more)), None)
        if further is None and abs(value) > _NOTHING:
            return self("numbers.just_above" if value > 0 else "numbers.just_below")
        return self.number(value, digits + (further or 0), signed=True)

    def ends(self, low: float, high: float, digits: int) -> str:
        """The interval of a change from both its ends: ``−0.8 to −0.04``."""
        return self("numbers.interval", low=self.end(low, digits), high=self.end(high, digits))

    def number(self, value: float, digits: int, *, signed: bool = False) -> str:
        """A number with this language's decimal mark, a true minus sign, and narrow spaces from 10 000 on."""
        text = f"{abs(value):.{digits}f}"
        whole = len(text) - digits - (digits > 0)
        is_told = value < 0 or (signed and value > 0)
        sign = (MINUS if value < 0 else "+") if is_told and text.strip("0.") else ""
        if whole > _MOST_TOGETHER:
            text = f"{float(text):,.{digits}f}".replace(",", NARROW_SPACE)
        return sign + text.replace(".", self.texts["locale.decimal"]) if digits else sign + text

    def day(self, value: date) -> str:
        """``14 March 2026``."""
        month = self(f"locale.months.{value.month - 1}")
        return self("locale.day", day=value.day, month=month, year=value.year)

    def short_day(self, value: date) -> str:
        """``14 Mar 2026``."""
        return _short_day(self, value)

    def month(self, value: date) -> str:
        """``March 2026``."""
        return f"{self(f'locale.months.{value.month - 1}')} {value.year}"

    def short_month(self, value: date) -> str:
        """``Mar 2026``."""
        return _short_month(self, value.year, value.month)

    def instant(self, value: datetime) -> str:
        """``14 March 2026, 06:05``."""
        return f"{self.day(value)}, {value:%H:%M}"


@cache
def _short_day(own: Words, value: date) -> str:
    """Kept: the same days stand in many tables."""
    month = own(f"locale.short_months.{value.month - 1}")
    return own("locale.short_day", day=value.day, month=month, year=value.year)


@cache
def _short_month(own: Words, year: int, month: int) -> str:
    return f"{own(f'locale.short_months.{month - 1}')} {year}"


@cache
def words(language: str) -> Words:
    """The texts of a language.

    Raises
    ------
    RenderError
        When there is no file for it.
    """
    if language not in LANGUAGES:
        raise RenderError(f"There are no words for the language {language!r}.", f"Use one of: {', '.join(LANGUAGES)}.")
    content = (resources.files(__name__) / f"{language}.toml").read_text(encoding="utf-8")
    return Words(language, _flat("", tomllib.loads(content)))
