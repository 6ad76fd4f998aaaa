"""The methods page: lengths in the academy's unit, also of a source that prints yards, and the language of sources."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest

from pipelines.measures.references import BIBLIOGRAPHY
from reports.pages.context import page_context
from reports.pages.methods import _bibliography, _printed
from schemas.academy import Units
from tests.report.conftest import LAST_ON, academy

FURTHER = SimpleNamespace(
    further_yd=20.0, straighter_deg=0.0, standard="80", trouble="trees", printed=0.8, computed=0.82, is_calibrated=False
)


@pytest.mark.parametrize(
    ("language", "length", "says"),
    [("de", "m", ("18,3 m weiter", "205,7 m", "229,1 m")), ("en", "yd", ("20 yd further", "225 yd", "250.6 yd"))],
)
def test_printed_yards_are_said_in_the_academys_unit(language: str, length: str, says: tuple[str, ...]) -> None:
    told = replace(academy(), language=language, units=Units("km/h", length))
    context = replace(page_context(told, "coach", LAST_ON), printed=(FURTHER,))
    text = re.sub(r"\s", " ", str(_printed(context)))
    for each in says:
        assert each in text
    assert ("yd" in text) is (length == "yd")


@pytest.mark.parametrize(("language", "n_marked"), [("de", 2), ("en", 0)])
def test_a_voice_is_told_that_sources_are_listed_in_english(language: str, n_marked: int) -> None:
    context = page_context(replace(academy(), language=language), "coach", LAST_ON)
    one = list(BIBLIOGRAPHY.values())[:1]
    assert str(_bibliography(replace(context, sources=one))).count('<span lang="en">') == n_marked
