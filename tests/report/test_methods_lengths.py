"""The methods page says lengths in the academy's unit, also those of a source that prints yards."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest

from reports.pages.context import page_context
from reports.pages.methods import _printed
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
