"""Every text of the pages with three fillings, to be read whole: ``python -m tests.report.sentence_catalogue [en|de] [WORD...]``.

The fillings are real ones: numbers as the pages write them, names of the invented academy. A word picks the keys that begin
with it (``today flag.load_jump``).
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from reports.numbers import Numbers
from reports.words import LANGUAGES, placeholders, words
from schemas.academy import Units

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.words import Words


def _fillings(name: str, one: Words, numbers: Numbers) -> tuple[str, str, str]:
    """Three values for a name: of the kind that the name tells of, else whole numbers."""
    texts: dict[str, tuple[str, str, str]] = {
        "alias": ("Fieldfare", "Siskin", "Dipper"),
        "month": ("May 2026", "September 2025", "March 2026")
        if one.language == "en"
        else ("Mai 2026", "September 2025", "März 2026"),
        "course": (one("course.open"), one("course.tree-lined"), "Alder Wood"),
        "club": tuple(one(f"club_group.{name}") for name in ("driver", "iron", "wedge")),  # type: ignore[dict-item]
        "metric": tuple(one(f"metric.{name}") for name in ("club_speed_mps", "scatter_side_m", "aim_deg")),  # type: ignore[dict-item]
        "region": tuple(one(f"region.{name}") for name in ("neck", "lead_hip", "lower_back")),  # type: ignore[dict-item]
        "level": tuple(numbers.with_unit("speed", value) for value in (41.6, 45.0, 49.6)),  # type: ignore[dict-item]
        "amount": tuple(one("ball.strokes", n=one.number(value, 1)) for value in (0.4, 1.0, 3.4)),  # type: ignore[dict-item]
        "day": ("2 May 2026", "14 March 2026", "30 September 2026")
        if one.language == "en"
        else ("2. Mai 2026", "14. März 2026", "30. September 2026"),
        "interval": tuple(
            one("numbers.interval", low=low, high=high) for low, high in (("1", "3"), ("\u22120.4", "+1.2"), ("8", "20"))
        ),  # type: ignore[dict-item]
        "device": ("unit-1", "unit-2", one("flag.unnamed_device")),
    }
    for ending in ("until", "since", "first", "last", "came", "before_day", "raised"):
        texts.setdefault(ending, texts["day"])
    for ending in ("value", "baseline", "before", "now", "speed", "gained"):
        texts.setdefault(ending, texts["level"])
    for ending in ("place", "items", "kinds", "reasons", "what", "names"):
        texts.setdefault(ending, texts["region"] if ending == "place" else texts["metric"])
    for ending in ("change", "give", "low", "high", "difference", "gain"):
        texts.setdefault(ending, ("+1.2", "\u22120.4", "0.0"))
    return texts.get(name, ("1", "3", "48"))


def lines(language: str, chosen: tuple[str, ...] = ()) -> Iterator[str]:
    """``key: text`` for every text without a name to fill, and three lines for every other."""
    one = words(language)
    numbers = Numbers(one, Units("mph", "yd") if language == "en" else Units("km/h", "m"))
    for key, text in one.texts.items():
        if chosen and not key.startswith(chosen):
            continue
        names = sorted(placeholders(text))
        if not names:
            yield f"{key}: {text}"
            continue
        values = {name: _fillings(name, one, numbers) for name in names}
        for turn in range(3):
            yield f"{key}: {text.format(**{name: values[name][turn] for name in names})}"


def main() -> None:
    chosen = [word for word in sys.argv[1:] if word not in LANGUAGES]
    for language in [word for word in sys.argv[1:] if word in LANGUAGES] or list(LANGUAGES):
        sys.stdout.writelines(f"{language} {line}\n" for line in lines(language, tuple(chosen)))


if __name__ == "__main__":
    main()
