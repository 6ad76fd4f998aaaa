"""Room for German: the squad's table is seen whole on a laptop, and no mark lies over the sentence beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.browser.conftest import Sites

pytestmark = pytest.mark.browser

SIDEWAYS = """() => [...document.querySelectorAll(".scroll")].map(one => one.scrollWidth - one.clientWidth)"""
MARKS = """() => [...document.querySelectorAll(".bulletin > li")].map(one => one.children[0])
    .map(mark => mark.scrollWidth - mark.clientWidth)"""


@pytest.mark.parametrize("reader", ["coach", "physio"])
def test_the_squads_table_is_seen_whole_on_a_laptop(browser: Browser, sites: Sites, reader: str) -> None:
    """Its last column lay beyond the edge, at any width of the window."""
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.goto((sites.root / "de" / reader / "squad.html").as_uri())
    assert max(page.evaluate(SIDEWAYS)) <= 0
    page.close()


def test_marks_of_own_pages_keep_to_their_column(browser: Browser, sites: Sites) -> None:
    """The mark of a notice was broader than its column, and stood upon the finding."""
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    found: list[int] = []
    for path in sorted((sites.root / "de").glob("players/*/index.html")):
        page.goto(path.as_uri())
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        found += page.evaluate(MARKS)
    assert len(found) > 3
    assert max(found) <= 0
    page.close()
