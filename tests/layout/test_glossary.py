"""Pages and names in code keep to the glossary of DEVELOPERS.md."""

from __future__ import annotations

import ast

from reports.words import words
from tests.layout.glossary import ROOT, glossary, names_in, wrong_in_names, wrong_in_texts
from tests.layout.reach import PACKAGES

FORBIDDEN = tuple(word for term in glossary() for word in term.forbidden)
FORBIDDEN_GERMAN = tuple(word for term in glossary() for word in term.forbidden_german)


def test_each_term_stands_once_with_one_meaning() -> None:
    terms = [entry.term for entry in glossary()]
    assert len(terms) > 12
    assert len(set(terms)) == len(terms)
    assert len({entry.means for entry in glossary()}) == len(terms)
    assert not {word.lower() for word in FORBIDDEN} & {term.lower() for term in terms}
    assert not {word.lower() for word in FORBIDDEN_GERMAN} & {entry.german.lower() for entry in glossary()}


def test_each_term_is_used_on_pages_or_in_code() -> None:
    english, german = (" ".join(words(language).texts.values()).lower() for language in ("en", "de"))
    code = " ".join(path.read_text(encoding="utf-8") for package in PACKAGES for path in (ROOT / package).rglob("*.py")).lower()
    unused = [
        entry.term
        for entry in glossary()
        if entry.term not in english + code or (entry.german.lower() not in german and entry.german != "-")
    ]
    assert unused == []


def test_no_sentence_uses_a_forbidden_synonym() -> None:
    assert wrong_in_texts(dict(words("en").texts), FORBIDDEN) == []
    assert wrong_in_texts(dict(words("de").texts), FORBIDDEN_GERMAN) == []


def test_no_name_in_code_uses_a_forbidden_synonym() -> None:
    wrong = {
        str(path.relative_to(ROOT)): found
        for package in PACKAGES
        for path in sorted((ROOT / package).rglob("*.py"))
        if (found := wrong_in_names(names_in(ast.parse(path.read_text(encoding="utf-8"))), FORBIDDEN))
    }
    assert wrong == {}


def test_a_forbidden_synonym_would_be_seen() -> None:
    assert wrong_in_texts({"today.lead": "3 alarms on {day}"}, FORBIDDEN) == [("today.lead", "alarm")]
    assert wrong_in_texts({"today.lead": "3 alerts on {alarm}"}, FORBIDDEN) == []
    assert wrong_in_texts({"today.finding": "Befund {id}"}, FORBIDDEN_GERMAN) == [("today.finding", "Befund")]
    tree = ast.parse("def sent(n_alarms):\n    class AlarmStep: ...\n    alert = 1\n")
    assert wrong_in_names(names_in(tree), FORBIDDEN) == [("AlarmStep", "alarm"), ("n_alarms", "alarm")]
