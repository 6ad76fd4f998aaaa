"""Printed pages, read back: letters of 7 pt and more, charts too; no heading alone at the end of a side, no side hardly begun."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser.paper import on_paper
from tests.browser.test_pages import opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.browser.conftest import Sites

pytestmark = pytest.mark.browser

PRINTED = ("coach/players/*.html", "coach/methods.html", "coach/trials/*.html", "coach/programme.html")


@pytest.mark.parametrize("kind", PRINTED)
def test_a_printed_page_is_whole(browser: Browser, sites: Sites, kind: str) -> None:
    with opened(browser, sites.first("en", kind)) as (page, heard):
        assert on_paper(page) == []
        assert heard.errors == []
