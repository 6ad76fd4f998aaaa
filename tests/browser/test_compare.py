"""The comparison as a reader chooses it: the script says what the page said, keeps the choice in the address, and comes back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser.test_pages import opened, until

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from tests.browser.conftest import Sites

pytestmark = pytest.mark.browser

SHOWN = "[...document.querySelectorAll('#compared th, #compared td')].map(c => c.textContent)"
LEAD = "document.querySelector('.lead').textContent"


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_script_says_what_the_page_said_without_it(browser: Browser, sites: Sites, language: str) -> None:
    path = sites.first(language, "coach/compare.html")
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(path.as_uri())
    plain = [cell.text_content() for cell in page.query_selector_all("#compared th, #compared td")]
    lead = page.text_content(".lead")
    context.close()
    with opened(browser, path) as (page, heard):
        assert page.locator(".sieve.compare").is_visible()
        assert page.evaluate(SHOWN) == plain
        assert page.evaluate(LEAD) == lead
        assert heard.errors == []


def test_two_players_are_chosen_and_come_back(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/compare.html")) as (page, heard):
        names = page.locator("#a option").all_inner_texts()
        page.select_option("#a", label=names[0])
        page.select_option("#b", label=names[1])
        assert page.evaluate(LEAD).startswith(f"{names[0]} (")
        assert f"&b={page.input_value('#b')}" in page.evaluate("location.search")
        shown = page.evaluate(SHOWN)
        page.goto(page.url.split("?")[0].replace("compare", "squad"))
        page.go_back()
        until(page, "document.querySelector('.sieve.compare') && !document.querySelector('.sieve.compare').hidden")
        assert page.evaluate(SHOWN) == shown
        page.select_option("#b", label=names[0])
        page.select_option("#b-season", page.input_value("#a-season"))
        assert "same months" in page.evaluate(LEAD)
        assert heard.errors == []


def test_a_player_page_leads_to_the_player_beside_the_season_before(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/players/*.html")) as (page, _):
        name = page.locator("h1").inner_text()
        page.locator(".above a", has_text="Compare").click()
        until(page, "document.querySelector('.sieve.compare') && !document.querySelector('.sieve.compare').hidden")
        assert page.evaluate(LEAD).count(f"{name} (") == 2
        assert page.input_value("#b-season") != page.input_value("#a-season")


def test_the_season_sheet_is_one_printed_side(browser: Browser, sites: Sites) -> None:
    for language in ("en", "de"):
        for kind in ("coach/season/*.html", "players/*/season.html"):
            with opened(browser, sites.first(language, kind)) as (page, _):
                assert page.pdf(prefer_css_page_size=True).count(b"/Type /Page\n") == 1
