"""Room for German: the squad's table is seen whole on a laptop, and no mark lies over the sentence beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser.test_pages import PHONE, opened

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


ASIDE = """() => {
  document.querySelectorAll("details").forEach((fold) => { fold.open = true; });
  return [...document.querySelectorAll(".scroll:not(:has(.heat-map))")]
    .filter((place) => place.scrollWidth > place.clientWidth + 1)
    .map((place) => `${place.getAttribute("aria-label")}: ${place.scrollWidth - place.clientWidth} px`);
}"""


ROOMS = ("players/*/index.html", "coach/players/*.html", "physio/squad-health.html", "coach/trials/*.html")


@pytest.mark.parametrize(("width", "kind"), [*((PHONE, kind) for kind in ROOMS), (1280, ROOMS[1])])
def test_no_german_table_is_moved_sideways(browser: Browser, sites: Sites, width: int, kind: str) -> None:
    """Months stood in tables up to 104 px wider than their place; the body's map alone has too many weeks for a phone."""
    with opened(browser, sites.first("de", kind), width) as (page, _):
        assert page.evaluate(ASIDE) == []


UNDERLINED = """selector => [...document.querySelectorAll(selector)]
  .filter((one) => getComputedStyle(one).borderBottomColor !== getComputedStyle(document.body).backgroundColor).length"""


@pytest.mark.parametrize("selector", [".masthead nav a", ".spans button"])
def test_in_forced_colours_one_choice_is_marked_and_not_all(browser: Browser, sites: Sites, selector: str) -> None:
    """Edges that are see-through are drawn there: every entry looked like the one that is open."""
    place = browser.new_context(forced_colors="active")
    page = place.new_page()
    page.goto(sites.first("en", "coach/players/*.html" if "spans" in selector else "coach/squad.html").as_uri())
    n_places = page.evaluate("document.querySelectorAll('.spans').length") if "spans" in selector else 1
    assert page.evaluate(UNDERLINED, selector) == n_places
    place.close()
