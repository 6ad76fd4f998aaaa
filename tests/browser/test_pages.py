"""Every kind of page as a reader meets it: from disk, without a network, on phone, tablet, desk and paper."""

from __future__ import annotations

import re
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import axe_playwright_python
import pytest

from tests.broad import BROAD, some_of
from tests.browser.conftest import WCAG_22
from tests.browser.kinds import KINDS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

    from tests.browser.conftest import Sites

pytestmark = pytest.mark.browser

PHONE, TABLET, DESK, PAPER = 390, 820, 1440, 680
ZOOMED = (320, 256)
MEASURE = (Path(__file__).parent / "measure.js").read_text(encoding="utf-8")
FOCUS = (Path(__file__).parent / "focus.js").read_text(encoding="utf-8")
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")

SAME_AS_COACH = frozenset(
    {
        "physio/squad.html",
        "physio/load.html",
        "physio/trials.html",
        "physio/methods.html",
        "players/methods.html",
        "data/methods.html",
    }
)
LOOKED_AT = tuple(kind for kind in KINDS if kind not in SAME_AS_COACH)


@dataclass
class Heard:
    """What the browser complained about, and what it asked for."""

    errors: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


_FREE: list[Page] = []
"""Windows in which nothing is looked at now: to open one takes the browser three times as long as to load a page into it."""


@contextmanager
def opened(browser: Browser, path: Path, width: int = DESK) -> Iterator[tuple[Page, Heard]]:
    """The page with its charts drawn, in a window as it was opened; the network is off."""
    page, heard = _FREE.pop() if _FREE else browser.new_context(offline=True, reduced_motion="reduce").new_page(), Heard()
    page.set_viewport_size({"width": width, "height": 900})
    listeners = {
        "console": lambda message: heard.errors.append(message.text) if message.type in {"error", "warning"} else None,
        "pageerror": lambda fault: heard.errors.append(str(fault)),
        "request": lambda request: heard.requests.append(request.url),
    }
    for event, listener in listeners.items():
        page.on(event, listener)  # type: ignore[call-overload]
    page.goto(path.as_uri())
    drawn(page)
    try:
        yield page, heard
    finally:
        for event, listener in listeners.items():
            page.remove_listener(event, listener)
        page.emulate_media(media="null", color_scheme="light", forced_colors="none")
        page.mouse.move(0, 0)
        page.goto("about:blank")
        _FREE.append(page)


SHOWN = "[...document.querySelectorAll('.chart[data-kind]')].filter(c => !c.closest('[hidden]'))"
"""Charts, but those of groups that are not chosen."""
ALL_DRAWN = f"{SHOWN}.every(c => c.dataset.drawn && (!c.clientWidth || c.dataset.drawnAt === String(c.clientWidth)))"


def until(page: Page, holds: str) -> None:
    """Wait until an expression holds; asked from outside, since the page's own policy forbids to evaluate text inside it."""
    for _ in range(400):
        if page.evaluate(holds):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never came true: {holds}")


def drawn(page: Page) -> None:
    until(page, ALL_DRAWN)


def sized(page: Page, width: int, height: int = 900) -> None:
    """The page in a window of this size, its charts drawn."""
    page.set_viewport_size({"width": width, "height": height})
    drawn(page)


LOOK = """async (asked) => {
  const charts = [...document.querySelectorAll('.chart svg')].map((svg) => [svg, [...svg.childNodes]]);
  for (const [svg] of charts) svg.replaceChildren();
  try { return await axe.run({exclude: [['.chart svg']]}, asked); }
  finally { for (const [svg, marks] of charts) svg.append(...marks); }
}"""
"""What is drawn in charts is not looked at, and set aside meanwhile: the engine goes through half as many nodes."""


def violations(page: Page, **options: object) -> list[tuple[str, str, str]]:
    """What the accessibility engine finds, WCAG 2.2 too, or by these options."""
    page.evaluate(AXE)  # from here on it asks for style sheets, which the page's policy forbids
    found = page.evaluate(LOOK, {"resultTypes": ["violations"], **(options or {"rules": WCAG_22})})["violations"]
    return [(fault["id"], fault["nodes"][0]["html"][:200], fault["nodes"][0]["failureSummary"]) for fault in found]


def unmarked_charts(page: Page) -> list[str]:
    """Kinds of charts that were drawn without a single mark."""
    found: list[str] = page.evaluate(
        f"{SHOWN}.filter(c => "
        "![...c.querySelectorAll('.role-mark > *')].map(m => m.getBoundingClientRect()).some(b => b.width + b.height > 1))"
        ".map(c => c.dataset.kind)"
    )
    return found


def test_every_page_is_of_a_known_kind(sites: Sites) -> None:
    pages = {path.relative_to(sites.root / "en") for path in (sites.root / "en").rglob("*.html")}
    strangers = sorted(str(path) for path in pages if path.name != "start.html" and not any(path.match(kind) for kind in KINDS))
    assert strangers == []


@pytest.fixture(scope="module")
def of_kind(request: pytest.FixtureRequest, browser: Browser, sites: Sites) -> Iterator[tuple[Page, Heard]]:
    """The fullest page of a kind in a language, opened once for all that look at it, which takes half their time."""
    kind, language = request.param
    with opened(browser, sites.first(language, kind), PHONE) as found:
        yield found


def of_every_kind(first: str, every: int = 1) -> pytest.MarkDecorator:
    """Every kind of page in both languages; as broad but for each so-manyth kind in the first of them."""
    return pytest.mark.parametrize(
        "of_kind",
        [
            pytest.param((kind, language), id=f"{kind}-{language}", marks=() if language == first and at % every == 0 else BROAD)
            for at, kind in enumerate(LOOKED_AT)
            for language in ("en", "de")
        ],
        indirect=True,
    )


@of_every_kind("de")  # whose words are longer
def test_a_page_reads_well_everywhere(of_kind: tuple[Page, Heard]) -> None:
    page, heard = of_kind
    faults: dict[str, Any] = {}
    sized(page, *ZOOMED)  # 400 % of 1280 x 1024
    faults["hidden stops at 400 %"] = page.evaluate(FOCUS)
    across = page.evaluate("document.body.classList.contains('wide')")
    sized(page, 1010 if across else PAPER)
    page.emulate_media(media="print")
    faults["paper"] = page.evaluate(MEASURE)
    page.emulate_media(media="screen")
    for width in (PHONE, TABLET, DESK):  # the last is the one in which it is looked at next: its charts are drawn once
        sized(page, width)
        faults[f"{width} px"] = page.evaluate(MEASURE)
        faults[f"charts at {width} px"] = unmarked_charts(page)
    assert {where: what for where, what in faults.items() if what} == {}
    assert heard.errors == []
    assert [url for url in heard.requests if not url.startswith(("file:", "data:"))] == []


@of_every_kind("en", every=2)
def test_a_page_is_accessible(of_kind: tuple[Page, Heard]) -> None:
    page, _ = of_kind
    page.emulate_media(media="screen")
    sized(page, DESK)
    assert violations(page) == []


IN_THE_DARK = ("coach/index.html", "coach/squad.html", "coach/players/*.html", "physio/body-map.html", "players/*/index.html")


@pytest.mark.parametrize("kind", some_of(IN_THE_DARK, every=2))
def test_a_page_reads_in_the_dark_and_in_forced_colours(browser: Browser, sites: Sites, kind: str) -> None:
    with opened(browser, sites.first("en", kind)) as (page, heard):
        for media in ({"color_scheme": "dark"}, {"color_scheme": "light", "forced_colors": "active"}):
            page.emulate_media(**media)  # type: ignore[arg-type]
            assert violations(page, runOnly=["color-contrast", "link-in-text-block"]) == []
            if media["color_scheme"] == "dark":
                assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(18, 18, 18)"
        page.emulate_media(media="print", color_scheme="dark", forced_colors="none")
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert heard.errors == []


@pytest.mark.parametrize(("language", "day"), [("en", r"\d+ [A-Z][a-z]{2} 2025"), ("de", r"\d+\. [A-Z][a-zä]+\.? 2025")])
def test_the_numbers_behind_a_trend_are_those_drawn(browser: Browser, sites: Sites, language: str, day: str) -> None:
    with opened(browser, sites.first(language, "coach/players/*.html")) as (page, heard):
        behind = page.locator("figure:has(.chart[data-kind=trend]) details.behind").first
        behind.locator("summary").press("Enter")
        page.wait_for_selector("table.drawn")
        drawn_sessions = page.locator(".chart[data-kind=trend]").first.evaluate(
            "chart => window.chartSets(chart).rows.day.length"
        )
        assert behind.locator("table.drawn tbody tr").count() == drawn_sessions
        heads = ["Day", "Session", "Shots", "Device"] if language == "en" else ["Tag", "Einheit", "Schläge", "Gerät"]
        assert behind.locator("table.drawn thead th").all_inner_texts() == heads
        assert re.fullmatch(day, behind.locator("table.drawn tbody td").first.inner_text())  # as days stand elsewhere on the page
        behind.locator("summary").press("Enter")
        behind.locator("summary").press("Enter")
        assert behind.locator("table.drawn").count() == 1
        assert heard.errors == []


def test_every_printed_side_has_a_head_and_a_number(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/squad.html")) as (page, _):
        assert "· Squad · For the coach · 24 Sep 2025" in str(page.get_attribute("html", "data-running"))
    with opened(browser, sites.first("en", "coach/players/*.html")) as (page, _):
        assert "2025" not in str(page.get_attribute("html", "data-running"))


def test_values_are_shown_where_the_reader_points(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/players/*.html")) as (page, _):
        marks = page.locator(".chart[data-kind=trend] .mark-symbol path")
        marks.nth(12).scroll_into_view_if_needed()
        marks.nth(12).hover(force=True)
        page.wait_for_selector("#vg-tooltip-element.visible")
        said = page.locator("#vg-tooltip-element").inner_text()
        assert "Day" in said
        assert "Session" in said


PICTURES = (
    f"{SHOWN}.filter(c => c.dataset.drawn).map(c => [c.dataset.kind, [...c.querySelectorAll('svg *')].map(e => "
    "(e.cloneNode(false).outerHTML + (e.firstElementChild ? '' : e.textContent)).replace(/clip[0-9]+/g, '')).sort()])"
)
"""What is drawn of each chart, in whatever order."""


@pytest.mark.parametrize("kind", some_of(["coach/players/*.html", "physio/players/*.html"]))
def test_a_chart_that_took_another_width_is_the_one_drawn_for_it(browser: Browser, sites: Sites, kind: str) -> None:
    path = sites.first("en", kind)
    with opened(browser, path, PHONE) as (page, _):
        sized(page, TABLET)
        stretched = page.evaluate(PICTURES)
    with opened(browser, path, TABLET) as (page, _):
        assert page.evaluate(PICTURES) == stretched
    assert len(stretched) > 0


def test_a_span_of_time_is_chosen_by_a_button(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/players/*.html")) as (page, heard):
        first = ".chart[data-kind=trend]"
        before = page.locator(first).first.inner_html()
        page.locator(".spans button[data-months='3']").first.press("Enter")
        until(page, f"document.querySelector('{first}').dataset.months === '3'")
        drawn(page)
        page.wait_for_timeout(200)
        assert page.locator(first).first.inner_html() != before
        assert page.locator(".spans button[data-months='3']").first.get_attribute("aria-pressed") == "true"
        assert heard.errors == []


FIGURES = (
    "column => [...document.querySelectorAll('#squad tbody tr')]"
    ".map(row => parseFloat((row.cells[column].firstChild?.data ?? '').replace('\u2212', '-'))).filter(Number.isFinite)"
)
"""The numbers that a column of the squad shows, from top to bottom."""


def test_the_squad_is_sorted_and_filtered(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/squad.html")) as (page, _):
        page.locator("#squad th button").nth(2).click()
        down = page.evaluate(FIGURES, 2)
        assert down == sorted(down, reverse=True)
        page.locator("#squad th button").nth(2).press("Enter")
        assert page.evaluate(FIGURES, 2) == sorted(down)
        assert page.locator("#squad th[aria-sort]").get_attribute("aria-sort") == "ascending"
        page.locator("#squad th button").nth(3).click()
        changes = page.evaluate(FIGURES, 3)
        assert changes == sorted(changes, reverse=True)
        assert changes[0] > 0 > changes[-1]
        name = page.locator("#squad tbody tr:nth-child(2) th a").inner_text()
        page.fill("#find", name.upper())
        assert page.locator("#squad tbody tr:visible").count() == 1
        assert "1 of" in page.locator(".sieve[data-for] output").inner_text()
        page.fill("#find", "nobody of this name")
        assert page.locator("#squad tbody tr:visible").count() == 0
        assert page.locator(".sieve[data-for] output").inner_text() == "Nobody fits both the name and the choice."
        page.locator(".sieve button").press("Enter")
        assert page.locator("#squad tbody tr:visible").count() == len(page.query_selector_all("#squad tbody tr"))
        assert page.locator(".sieve button").is_hidden()
        assert page.evaluate("document.activeElement.id") == "find"


def test_filter_and_order_stand_in_the_address_and_come_back(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/squad.html")) as (page, heard):
        page.locator("#squad th button").nth(2).click()
        page.locator("#squad th button").nth(2).click()
        page.select_option("#choose", "here")
        name = page.locator("#squad tbody tr:visible th a").nth(1).inner_text()
        page.fill("#find", name[:4])
        assert page.evaluate("location.search").endswith(f"?sort=2&choose=here&find={name[:4]}")
        shown = page.locator("#squad tbody tr:visible th a").all_inner_texts()
        page.locator("#squad tbody tr:visible th a").first.click()
        page.wait_for_selector("h1")
        page.go_back()
        until(page, "document.querySelector('.sieve') && !document.querySelector('.sieve').hidden")
        assert (page.input_value("#choose"), page.input_value("#find")) == ("here", name[:4])
        assert page.locator("#squad tbody tr:visible th a").all_inner_texts() == shown
        assert page.locator("#squad th[aria-sort]").get_attribute("aria-sort") == "ascending"
        assert heard.errors == []


def test_a_list_is_sorted_on_a_phone(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/squad.html"), width=PHONE) as (page, _):
        listed = page.evaluate(FIGURES, 2)
        assert page.locator(".sorter button").is_disabled()
        page.locator(".sorter select").select_option("Driver speed")
        assert page.evaluate(FIGURES, 2) == sorted(listed, reverse=True)
        page.locator(".sorter button").press("Enter")
        assert page.evaluate(FIGURES, 2) == sorted(listed)
        page.locator(".sorter select").select_option("As listed")
        assert page.evaluate(FIGURES, 2) == listed
        page.set_viewport_size({"width": DESK, "height": 900})
        assert page.locator(".sorter").is_hidden()


SIDES = re.compile(rb"/Type /Page\b")


@pytest.mark.parametrize("room", ["coach", "physio"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_today_of_a_busy_squad_is_one_printed_side(browser: Browser, sites: Sites, language: str, room: str) -> None:
    with opened(browser, sites.first(language, f"{room}/index.html")) as (page, _):
        page.evaluate(
            "() => { const list = document.querySelector('.bulletin'), items = [...list.children];"
            " for (let i = 0; list.children.length < 13; i += 1) list.append(items[i % items.length].cloneNode(true)); }"
        )
        assert len(SIDES.findall(page.pdf(prefer_css_page_size=True))) == 1
        page.emulate_media(media="print")
        small = page.evaluate(
            "[...document.querySelectorAll('main p, main li, footer p, footer li')].filter(e => e.getClientRects().length"
            " && parseFloat(getComputedStyle(e).fontSize) < 7 * 96 / 72 - 0.01).length"
        )
        assert small == 0


def test_the_handle_of_the_map_is_moved_by_keys_and_by_hand(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/players/*.html")) as (page, heard):
        box = page.locator(".what-if:visible").first
        speed, scatter, said = box.locator("input").nth(0), box.locator("input").nth(1), box.locator("output")
        handle = page.locator("figure:has(+ .what-if) .chart .handle").first
        assert "as many strokes as now" in said.inner_text()
        start = handle.get_attribute("transform")
        scatter.press("PageUp")
        assert "more" in said.inner_text()
        assert "°" in str(scatter.get_attribute("aria-valuetext"))
        box.locator("button").press("Enter")
        assert handle.get_attribute("transform") == start
        assert page.evaluate("document.activeElement.name") == "speed"
        before = float(str(speed.input_value()))
        speed.press("ArrowRight")
        assert float(str(speed.input_value())) == pytest.approx(before + 0.1, abs=0.051)
        box.locator("button").press("Enter")
        handle.scroll_into_view_if_needed()
        at = handle.bounding_box()
        assert at is not None
        middle = (at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
        page.mouse.move(*middle)
        page.mouse.down()
        page.mouse.move(middle[0], middle[1] + 40, steps=3)
        page.mouse.up()
        assert "fewer" in said.inner_text()
        assert "has no interval" in box.inner_text()
        assert heard.errors == []


def test_a_page_works_with_the_keyboard(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/squad.html")) as (page, _):
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "content"
        for control in ("group", "find"):
            page.keyboard.press("Tab")
            assert page.evaluate("document.activeElement.id") == control


def test_a_page_is_read_at_twice_its_size(browser: Browser, sites: Sites) -> None:
    with opened(browser, sites.first("en", "coach/players/*.html"), width=DESK // 2) as (page, _):
        assert page.evaluate(MEASURE) == []
