"""Printed pages, read back: letters of 7 pt and more, charts too; no heading alone at the end of a side, no side hardly begun."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser.paper import on_paper, printed_text, sides
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


LARGER_NOTES = """() => [...document.querySelectorAll("td .note, th .unit")].filter(note =>
  parseFloat(getComputedStyle(note).fontSize) > parseFloat(getComputedStyle(note.closest("td, th")).fontSize) + .01
).map(note => note.textContent)"""


@pytest.mark.parametrize("kind", ["coach/compare.html", "coach/programme.html", "coach/squad.html", "physio/body-map.html"])
def test_on_paper_an_interval_is_no_larger_than_its_number(browser: Browser, sites: Sites, kind: str) -> None:
    with opened(browser, sites.first("en", kind)) as (page, _):
        page.emulate_media(media="print")
        assert page.evaluate("document.querySelectorAll('td .note').length") > 0
        assert page.evaluate(LARGER_NOTES) == []


NEXT_SIDE = '<div style="break-before: page">More</div>'


@pytest.mark.parametrize(
    ("last", "is_parted"),
    [
        ("<h3>Speed of the club with the driver</h3>", True),
        ('<h3 style="width: 120px">Speed of the club with the driver</h3>', True),
        (
            '<table><caption>Carry with the driver</caption><tr><td style="width: 4em">Side, with the driver<td>7</table>',
            False,
        ),
    ],
    ids=["in one line", "in three", "a cell that ends as a heading does"],
)
def test_a_heading_alone_is_told_from_a_cell(browser: Browser, last: str, *, is_parted: bool) -> None:
    page = browser.new_page()
    page.set_content(f'<div style="height: 830px">Text</div>{last}{NEXT_SIDE}')
    assert [fault.partition(":")[0] for fault in on_paper(page)] == ["parted heading"] * is_parted
    page.close()


FOLD = """() => {
  const fold = document.createElement("details"), summary = document.createElement("summary"), tail = document.createElement("p");
  const unprinted = document.createElement("span");
  [fold.className, unprinted.className] = ["folded", "unprinted"];
  [unprinted.textContent, tail.textContent] = [": left out here", "the tail of it"];
  summary.append("3 more", unprinted);
  fold.append(summary, tail);
  document.querySelector("main section .matter").append(fold);
}"""


def test_paper_says_what_is_folded_away_and_keeps_a_line_with_its_heading(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/players/*.html")) as (page, _):
        page.evaluate(FOLD)
        folded = printed_text(page)
        page.evaluate("document.querySelector('details.folded').open = true")
        unfolded = printed_text(page)
        page.emulate_media(media="print")
        assert page.evaluate("getComputedStyle(document.getElementById('history')).breakInside") == "avoid"
    assert ("3 more: left out here" in folded, "the tail of it" in folded) == (True, False)
    assert ("left out here" in unfolded, "the tail of it" in unfolded) == (False, True)


LONGER = """() => {
  const rows = document.querySelector("table[data-sortable] tbody"), last = rows.lastElementChild;
  for (let i = 0; i < 90; i++) rows.append(last.cloneNode(true));
  return [...document.querySelectorAll("table[data-sortable] thead")][0].querySelector("button").firstChild.textContent;
}"""


@pytest.mark.parametrize("kind", ["coach/squad.html", "coach/load.html", "data/index.html"])
def test_the_heads_of_a_long_table_stand_on_each_of_its_sides(browser: Browser, sites: Sites, kind: str) -> None:
    """Chromium left buttons out from the second side on: columns stood there without a name."""
    with opened(browser, sites.first("en", kind)) as (page, _):
        first_head = page.evaluate(LONGER)
        assert first_head in printed_text(page, 1)
        assert first_head in printed_text(page, 2)


LINKS = (
    "() => [...document.querySelectorAll('.way, footer > p a')].filter(e => e.getClientRects().length).map(e => e.textContent)"
)


@pytest.mark.parametrize("kind", ["coach/players/*.html", "players/*/index.html", "coach/squad.html"])
def test_paper_names_no_way_to_another_page(browser: Browser, sites: Sites, kind: str) -> None:
    with opened(browser, sites.first("en", kind)) as (page, _):
        assert page.evaluate(LINKS) != []
        page.emulate_media(media="print")
        assert page.evaluate(LINKS) == []


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_an_own_page_is_printed_on_two_sides(browser: Browser, sites: Sites, size: str) -> None:
    with opened(browser, sites.first("en", "players/*/index.html")) as (page, _):
        assert len(sides(page, size)) <= 2
