"""A group is chosen: others are set aside, the choice goes along, paper shows the same; without script everybody is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser.test_pages import MEASURE, drawn, until, violations

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

    from tests.browser.conftest import Sites

pytestmark = pytest.mark.browser
JUNIORS = {"Siskin", "Redstart"}
"""Of the first eleven players."""


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    yield context.new_page()
    context.close()


def names(page: Page) -> set[str]:
    return set(page.locator("#squad tbody th:visible a").all_inner_texts())


def follow(page: Page, link: str, address: str) -> None:
    """Click a link and wait until the page behind it is whole, its script too."""
    page.click(link)
    page.wait_for_url(address)


def test_a_chosen_group_stays_chosen_from_page_to_page_and_on_paper(page: Page, sites: Sites) -> None:
    page.goto((sites.root / "en/coach/squad.html").as_uri())
    everybody, lead = names(page), page.locator(".lead:visible").inner_text()
    page.select_option("#group", "Juniors")
    assert names(page) == JUNIORS < everybody
    of_group = page.locator(".lead:visible").inner_text()
    assert (lead.split()[0], of_group.split()[0]) == ("11", "2")
    assert page.url.endswith("squad.html?group=Juniors")
    assert page.locator(".groups output").inner_text().startswith("Juniors: 2 of 11 on this page.")
    page.emulate_media(media="print")
    assert names(page) == JUNIORS
    assert page.locator(".groups output").is_visible()
    assert not page.locator("#group").is_visible()
    page.emulate_media(media="screen")
    follow(page, "text=Siskin", "**/players/*.html?group=Juniors")
    follow(page, "nav >> text=Load", "**/load.html?group=Juniors")
    assert page.locator("#group").input_value() == "Juniors"
    assert set(page.locator("tbody th:visible a").all_inner_texts()) == JUNIORS
    page.select_option("#group", "")
    assert len(page.locator("tbody th:visible a").all()) == len(everybody)
    assert "group" not in page.url


def said(page: Page, question: str) -> str:
    """The first sentence of a section that is seen."""
    return page.locator("section", has=page.locator("h2", has_text=question)).locator(".answer:visible").inner_text()


@pytest.mark.parametrize(("language", "width"), [("en", 1280), ("de", 320)])
def test_health_and_data_speak_of_the_chosen_group(page: Page, sites: Sites, language: str, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    physio, coach = ((sites.root / language / room).as_uri() for room in ("physio/squad-health.html", "coach/data.html"))
    question, cost = {"en": ("How many have a", "What has it cost"), "de": ("Wie viele haben ein", "Was hat es gekostet")}[
        language
    ]
    page.goto(physio)
    whole = said(page, question), said(page, cost)
    assert page.locator(".chart[data-kind=prevalence]:visible").count() == 1
    page.select_option("#group", "Juniors")
    assert page.locator(".chart[data-kind=prevalence]:visible").count() == 1
    drawn(page)
    assert said(page, question) != whole[0]
    assert said(page, cost) != whole[1]
    assert page.evaluate(MEASURE) == []
    assert violations(page) == []
    page.goto(f"{coach}?group=Juniors")
    drawn(page)
    names_drawn = set(page.locator(".chart[data-kind=coverage] .role-axis-label text").all_text_contents())
    assert names_drawn & JUNIORS == JUNIORS
    page.select_option("#group", "")
    until(page, "document.querySelectorAll('.chart[data-kind=coverage] .role-axis-label text').length > 15")


def test_a_list_without_anybody_says_so(page: Page, sites: Sites) -> None:
    page.goto((sites.root / "en/coach/index.html").as_uri() + "?group=Juniors")
    assert page.locator(".groups output").inner_text() == "Nobody of Juniors stands on this page."
    assert page.locator(".nobody:visible").first.inner_text() == "Nobody of Juniors stands in this list."
    assert page.locator("ol.bulletin li:visible").count() == 0


def test_a_group_that_is_not_there_hides_nobody(page: Page, sites: Sites) -> None:
    page.goto((sites.root / "en/coach/squad.html").as_uri() + "?group=nobody")
    assert len(names(page)) == 11
    assert page.locator("#group").input_value() == ""


def test_a_page_about_nobody_offers_no_group(page: Page, sites: Sites) -> None:
    page.goto((sites.root / "en/coach/methods.html").as_uri() + "?group=Juniors")
    assert not page.locator(".groups").is_visible()
    follow(page, "nav >> text=Squad", "**/squad.html?group=Juniors")
    assert names(page) == JUNIORS


def test_without_script_everybody_is_shown_and_no_choice_is_offered(browser: Browser, sites: Sites) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((sites.root / "en/coach/squad.html").as_uri() + "?group=Juniors")
    assert len(names(page)) == 11
    assert not page.locator(".groups").is_visible()
    context.close()
