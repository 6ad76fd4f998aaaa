"""How easily a text reads: ``python -m tests.report.readability SITE...`` prints the figures of every own page of built sites.

Reading ease of Flesch (1948), "A new readability yardstick", Journal of Applied Psychology 32, 221-233: 206.835 - 1.015 words a
sentence - 84.6 syllables a word; for German in the form of Amstad (1978), "Wie verständlich sind unsere Zeitungen?", Zurich:
180 - words a sentence - 58.5 syllables a word. Both second-hand, agreed by two open text libraries. 70 to 80 is called "fairly
easy", what a pupil of about twelve reads.

Syllables: by pyphen's hyphenation patterns, which leave short ones together ("easy"), and by groups of vowels; the larger of the
two counts, so that a text looks harder rather than easier.
"""

from __future__ import annotations

import html
import re
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pyphen

_FORMULA = {"en": (206.835, 1.015, 84.6), "de": (180.0, 1.0, 58.5)}
_PATTERNS = {"en": "en_US", "de": "de_DE"}
_VOWELS = {"en": re.compile(r"[aeiouy]+"), "de": re.compile(r"ei|ai|au|äu|eu|ie|[aeiouyäöü]")}
_WORD = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*")
_BLOCK = re.compile(r"</(?:p|li|h[1-6]|dt|dd|figcaption|summary|button)>")


@dataclass(frozen=True)
class Reading:
    """Words of a text, and its reading ease (higher is easier)."""

    n_words: int
    ease: float


@cache
def syllables(word: str, language: str) -> int:
    """Syllables of a word: the larger of two counts."""
    plain = word.lower()
    heard = plain[:-1] if language == "en" and re.search(r"[^aeiouyl]e$", plain) else plain
    by_vowels = len(_VOWELS[language].findall(heard))
    if language == "en" and re.search(r"[^aeioutd]ed$", plain):
        by_vowels -= 1  # "turned" is one syllable
    by_pattern = len(pyphen.Pyphen(lang=_PATTERNS[language]).positions(word)) + 1
    return max(by_vowels, by_pattern, 1)


def reading(text: str, language: str) -> Reading:
    """The reading of plain text in which sentences end in a mark or a line break; numbers are no words."""
    sentences = [found for part in re.split(r"[.!?](?:\s|$)|\n", text) if (found := _WORD.findall(part))]
    every = [word for sentence in sentences for word in sentence]
    base, by_length, by_syllables = _FORMULA[language]
    each = sum(syllables(word, language) for word in every) / len(every)
    return Reading(len(text.split()), base - by_length * len(every) / len(sentences) - by_syllables * each)


def before_the_folds(page: str) -> str:
    """What a reader of an own page sees first: from its title to the first fold, without what a picture holds."""
    main = page.partition('<main id="content" tabindex="-1">')[2].partition("<footer>")[0]
    shown = re.sub(r"<script.*?</script>|<details.*?</details>|<div class=\"spans\".*?</div>", "", main, flags=re.DOTALL)
    marked = _BLOCK.sub("\n", shown.partition('<h2 class="folds">')[0])
    return html.unescape(re.sub(r"<[^>]+>", " ", marked))


def main() -> None:
    for site in sys.argv[1:]:
        for path in sorted(Path(site).glob("players/*/index.html")):
            page = path.read_text(encoding="utf-8")
            language = page.split('<html lang="', 1)[1][:2]
            found = reading(before_the_folds(page), language)
            sys.stdout.write(f"{path.parent.name} {language} {found.n_words} words, ease {found.ease:.0f}\n")


if __name__ == "__main__":
    main()
