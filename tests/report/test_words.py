from __future__ import annotations

import datetime as dt
import re

import pytest

from reports.words import LANGUAGES, MINUS, NARROW_SPACE, Words, placeholders, words
from schemas.errors import RenderError

OTHERS = [language for language in LANGUAGES if language != "en"]


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_has_the_same_keys(language: str) -> None:
    assert set(words(language).texts) == set(words("en").texts)


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_wants_the_same_values(language: str) -> None:
    other, english = words(language), words("en")
    different = {
        key: (placeholders(text), placeholders(other.texts[key]))
        for key, text in english.texts.items()
        if not placeholders(other.texts[key]) <= placeholders(text)
    }
    assert different == {}


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_holds_markup_or_is_empty(language: str) -> None:
    assert [key for key, text in words(language).texts.items() if not text.strip() or "<" in text or "&" in text] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_plural_has_both_forms(language: str) -> None:
    keys = set(words(language).texts)
    assert {key for key in keys if key.endswith(".one") and f"{key[:-4]}.other" not in keys} == set()


def test_no_counted_noun_stands_where_its_german_plural_would_need_another_ending() -> None:
    """36 Schläge are "aus 36 Schlägen" after such a word (Duden, Die Grammatik: dative plural in -n; from memory)."""
    dative = re.compile(
        r"\b(?:aus|mit|nach|von|bei|seit|zu|vor|unter|ab) \{(?:shots|strokes|swings|months|worthwhile|detectable)\}"
    )
    assert [key for key, text in words("de").texts.items() if dative.search(text)] == []


def test_a_list_of_things_has_no_german_verb_in_the_singular() -> None:
    verb = re.compile(r"\{what\} (?:kann|ist|hat|liegt|zeigt|steht)\b|\{what\} des normalen Schwungs liegt")
    assert [key for key, text in words("de").texts.items() if verb.search(text)] == []


def test_a_missing_text_or_value_says_which() -> None:
    with pytest.raises(RenderError, match="no\\.such\\.key"):
        words("en")("no.such.key")
    with pytest.raises(RenderError, match="interval"):
        words("en")("numbers.interval_90")
    with pytest.raises(RenderError, match="fr"):
        words("fr")


def test_values_are_filled_in_as_they_are() -> None:
    text = Words("en", {"a": "{name} said"})
    assert text("a", name="{n} <b>") == "{n} <b> said"


@pytest.mark.parametrize(
    ("language", "value", "digits", "signed", "shown"),
    [
        ("en", 1.25, 1, False, "1.2"),
        ("en", -0.04, 1, False, "0.0"),
        ("en", -3.46, 1, True, f"{MINUS}3.5"),
        ("en", 3.0, 0, True, "+3"),
        ("en", 0.0, 1, True, "0.0"),
        ("en", 9999, 0, False, "9999"),
        ("en", 12345.6, 1, False, f"12{NARROW_SPACE}345.6"),
        ("de", 12345.6, 1, False, f"12{NARROW_SPACE}345,6"),
        ("de", -0.75, 2, False, f"{MINUS}0,75"),
    ],
)
def test_numbers_are_written_as_the_language_does(language: str, value: float, digits: int, signed: bool, shown: str) -> None:
    assert words(language).number(value, digits, signed=signed) == shown


def test_days_and_months_have_names() -> None:
    day = dt.date(2026, 3, 4)
    assert words("en").day(day) == "4 March 2026"
    assert words("de").day(day) == "4. März 2026"
    assert words("en").short_month(day) == "Mar 2026"
    assert words("de").month(day) == "März 2026"
    assert words("en").instant(dt.datetime(2026, 3, 4, 6, 5)) == "4 March 2026, 06:05"  # noqa: DTZ001 - local time as it is printed


@pytest.mark.parametrize(("n", "shown"), [(0, "0 shots"), (1, "1 shot"), (2, "2 shots")])
def test_one_and_many(n: int, shown: str) -> None:
    assert words("en").count("n.shots", n) == shown


@pytest.mark.parametrize(("items", "shown"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")])
def test_listings(items: list[str], shown: str) -> None:
    assert words("en").listing(items) == shown
