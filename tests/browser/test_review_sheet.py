"""Each review sheet prints on one side of A4, and holds the whole list of signs for prompt care."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from reports.words import words

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.browser.conftest import Sites

pytestmark = pytest.mark.browser
PAGE_OBJECT = re.compile(rb"/Type\s*/Page[^s]")


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_review_sheet_prints_on_one_side(browser: Browser, sites: Sites, language: str) -> None:
    sheets = sorted((sites.root / language / "physio" / "review").glob("*.html"))
    assert sheets
    page = browser.new_page()
    for sheet in sheets:
        page.goto(sheet.as_uri())
        assert len(PAGE_OBJECT.findall(page.pdf(prefer_css_page_size=True))) == 1, sheet.name
        shown = page.inner_text("footer")
        for group in ("emergency", "doctor", "young", "wrist"):
            assert all(sign in shown for sign in words(language).lines(f"care.{group}.signs"))
    page.close()
