"""The players' own pages, of every invented player in both languages: short, plain, and without words of the trade of numbers."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from tests.report.readability import before_the_folds, reading, syllables

if TYPE_CHECKING:
    from tests.browser.conftest import Sites

pytestmark = pytest.mark.browser

MOST_WORDS = 300
LEAST_EASE = 80.0
"""From 80 on a text is called easy: what pupils of twelve read. Found: 99 and more in English, 88 and more in German."""

LEAST_EASE_OF_SHEETS = 70.0
"""From 70 on a text is called fairly easy."""

STRANGE = {
    "en": r"break.even|chance|interval|probab|\blead (?:hip|knee|wrist|elbow|shoulder)|\btrail\b|\bnotice\b|\balert\b",
    "de": r"Gewinnschwelle|Wahrscheinlich|Intervall|\bvordere[srn]? (?:Hüfte|Knie|Handgelenk)|Notiz|Alarm|\b(?:Sie|Ihre?)\b",
}


@pytest.mark.parametrize("language", ["en", "de"])
def test_an_own_page_is_short_and_reads_at_twelve(sites: Sites, language: str) -> None:
    pages = sorted((sites.root / language).glob("players/*/index.html"))
    assert len(pages) >= 10
    for path in pages:
        told = before_the_folds(path.read_text(encoding="utf-8"))
        found = reading(told, language)
        assert 60 <= found.n_words <= MOST_WORDS, (path, found)
        assert found.ease >= LEAST_EASE, (path, found)
        assert re.findall(STRANGE[language], told) == []


@pytest.mark.parametrize("language", ["en", "de"])
def test_an_own_season_sheet_reads_at_twelve(sites: Sites, language: str) -> None:
    """With what stands in its table. Found: 84 and more in English, 77 and more in German."""
    pages = sorted((sites.root / language).glob("players/*/season.html"))
    assert len(pages) >= 10
    for path in pages:
        found = reading(before_the_folds(path.read_text(encoding="utf-8")), language)
        assert found.ease >= LEAST_EASE_OF_SHEETS, (path, found)


@pytest.mark.parametrize(
    ("word", "language", "n"),
    [
        *(
            ("easy", "en", 2),
            ("turned", "en", 1),
            ("wanted", "en", 2),
            ("coach", "en", 1),
            ("practice", "en", 2),
            ("table", "en", 2),
        ),
        *(("Schwung", "de", 1), ("Flugweite", "de", 3), ("Schläger", "de", 2), ("aber", "de", 2), ("neue", "de", 2)),
    ],
)
def test_syllables(word: str, language: str, n: int) -> None:
    """Counts by ear, as a dictionary divides the words (from memory)."""
    assert syllables(word, language) == n


def test_reading_ease_of_a_counted_sentence() -> None:
    """By hand: 6 words and syllables, one sentence: 206.835 - 6.09 - 84.6 = 116.145; German, 3 of each: 180 - 3 - 58.5."""
    assert reading("The cat sat on the mat.", "en").ease == pytest.approx(116.145)
    assert reading("Der Ball fliegt.", "de").ease == pytest.approx(118.5)
