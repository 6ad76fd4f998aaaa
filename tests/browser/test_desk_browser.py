"""The desk in a real browser: small screens, no script, offline and back, both languages, accessibility."""

from __future__ import annotations

import hashlib
import os
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from pipelines.runs import Night, run_night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.stages.trial_plan import TrialWish, plan_trial, write_sheet
from pipelines.workspace import create_workspace
from reports.words import words as words_of
from tests.broad import some_of
from tests.browser.conftest import WCAG_22
from tests.flow.conftest import drop
from tests.flow.desk_visitor import opened_desk, served_desk
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, ConsoleMessage, Page

    from pipelines.desk.visit import Desk
    from pipelines.workspace import Workspace

pytestmark = pytest.mark.browser

NOW = datetime(2026, 1, 12, 21, tzinfo=UTC)
SIZES = {"smallest phone": (320, 640), "phone": (390, 844), "desktop": (1280, 800)}


FOREIGN = {"looked at": "wren", "bay en": "heron", "bay de": "stork"}
"""Folders of foreign files that are held, and whose shots are in them."""


def _foreign(folder: str) -> bytes:
    rows = [f"{FOREIGN[folder]};0{1 + n % 2}.02.2026;17:{n:02};Driver;{98 + n % 3},5;{230 + n}" for n in range(12)]
    return "\n".join(["Spieler;Datum;Uhrzeit;Schläger;Schlägertempo;Carry (yd)", *rows]).encode() + b"\n"


def _mapping_page(folder: str) -> str:
    """A held file is named by its content and, as long as there is no mapping, by the name of its folder."""
    named = hashlib.sha256(_foreign(folder) + hashlib.sha256(folder.encode()).digest())
    return f"/mapping/{named.hexdigest()}"


def violations(page: Page) -> list[tuple[str, str, str]]:
    """Rule, element and what is wrong with it, at the end of the page: before, the bar that stays below lies over some field."""
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    found = Axe().run(page, options={"rules": WCAG_22}).response["violations"]
    return [(item["id"], item["nodes"][0]["html"], item["nodes"][0]["failureSummary"]) for item in found]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    made = create_workspace(tmp_path_factory.mktemp("desk") / "lakeside", default_settings("Lakeside", "Europe/Berlin"))
    drop(made)
    (made.inbox / "sessions_monday.csv").write_text(
        "session_id,player_id,started_at,kind,swings_full\nh-0112,heron,2026-01-12 17:30,range,40\n", encoding="utf-8"
    )
    for folder in FOREIGN:
        (made.inbox / folder).mkdir()
        (made.inbox / folder / "export.csv").write_bytes(_foreign(folder))
    run_night(Night(made, NOW))
    _plan_a_trial(made)
    return opened_desk(made, lambda: datetime.now(UTC))


def _plan_a_trial(made: Workspace) -> None:
    """A trial, and its device file: 33 shots, as many as the sheet has."""
    academy, day = made.academy(), NOW.date()
    with open_warehouse(made.warehouse, read_only=True) as con:
        sheet = plan_trial(con, academy, TrialWish("heron", "wider stance", ("normal", "wider"), shots_per_arm=20), day)
    write_sheet(made.root, sheet, academy, day)
    n = sum(shot.day_no == 1 for shot in sheet.shots)
    (made.inbox / "sessions_t.csv").write_text(
        "session_id,player_id,started_at,kind\nh-t,heron,2026-01-12T09:00:00Z,trial\n", encoding="utf-8"
    )
    rows = [f"h-t,heron,{place},2026-01-12T09:{place:02}:00Z,driver,44.{place:02}" for place in range(1, n + 1)]
    head = "session_id,player_id,shot_no,struck_at,club,club_speed_mps"
    (made.inbox / "shots_t.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    take_in_waiting(Night(made, NOW))


@pytest.fixture(scope="module")
def address(desk: Desk) -> Iterator[str]:
    with served_desk(desk) as port:
        yield f"http://127.0.0.1:{port}"


_FREE: dict[bool, list[Page]] = {True: [], False: []}
"""Windows with and without script in which nobody is: to open one takes the browser longer than most of what is done in it."""


@contextmanager
def window(browser: Browser, address: str, size: tuple[int, int] = SIZES["desktop"], *, script: bool = True) -> Iterator[Page]:
    """A window as it was opened: it knows nothing of the desk, and nobody has come in."""
    page = _FREE[script].pop() if _FREE[script] else browser.new_context(java_script_enabled=script, has_touch=True).new_page()
    page.set_viewport_size({"width": size[0], "height": size[1]})
    try:
        yield page
    except BaseException:
        page.context.close()
        raise
    page.goto("about:blank")
    page.context.set_offline(False)
    page.context.clear_cookies()
    told = page.context.new_cdp_session(page)
    told.send("Storage.clearDataForOrigin", {"origin": address, "storageTypes": "all"})
    told.send("Network.clearBrowserCache")
    told.detach()
    _FREE[script].append(page)


def come_in(desk: Desk, address: str, page: Page, role: str, subject: str = "") -> None:
    page.goto(f"{address}/p/{desk.keys.personal_link(subject or role, role, desk.clock())}")  # type: ignore[arg-type]


SHEET = "/sheets/heron-20260112/1"
PAGES = [
    *(("player", path) for path in ("/", "/checkin", "/effort", "/problems", "/score", "/consent")),
    *(("coach", path) for path in ("/", "/findings", "/sheets", SHEET, f"{SHEET}/file?on=2026-01-12&session=h-t")),
    *(("physio", path) for path in ("/", "/findings")),
    *(("data", path) for path in ("/", "/drop", _mapping_page("looked at"), "/links", "/links/heron/guardian")),
]


FORMS = [
    ("player", "de"),
    ("player", "en"),
    ("coach", "en"),
    ("coach", "de"),
    ("physio", "de"),
    ("physio", "en"),
    ("data", "en"),
    ("data", "de"),
]


@pytest.mark.parametrize(("role", "language"), some_of(FORMS, every=2))
def test_every_form_fits_every_screen_and_has_no_fault_of_accessibility(
    desk: Desk, address: str, browser: Browser, role: str, language: str
) -> None:
    faults: list[str] = []

    def hear(message: ConsoleMessage) -> None:
        faults.extend([message.text] if message.type == "error" else [])

    with window(browser, address) as page:
        come_in(desk, address, page, role, "heron" if role == "player" else "")
        page.on("console", hear)
        page.goto(f"{address}/language/{language}")
        for path in [path for who, path in PAGES if who == role]:
            page.goto(address + path)
            assert page.url == address + path
            for width, height in SIZES.values():
                page.set_viewport_size({"width": width, "height": height})
                assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), (
                    path,
                    width,
                )
                small = page.evaluate(
                    "[...document.querySelectorAll('main button, .steps label, .tasks a')].filter((e) => e.checkVisibility()"
                    " && e.getBoundingClientRect().height < 44).map((e) => e.outerHTML)"
                )
                assert small == [], (path, width)
                if width == 320:
                    assert violations(page) == [], path
        page.remove_listener("console", hear)
        assert faults == []


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_check_in_without_script(desk: Desk, address: str, browser: Browser, language: str) -> None:
    with window(browser, address, SIZES["smallest phone"], script=False) as page:
        come_in(desk, address, page, "player", "wren")
        page.goto(f"{address}/language/{language}")
        page.goto(f"{address}/checkin")
        page.locator("#q-fatigue label").nth(3).tap()
        page.get_by_role("button", name={"en": "Hand in", "de": "Abgeben"}[language]).tap()
        page.wait_for_url("**/?done=checkin")
        assert page.locator(".thanks").inner_text().startswith({"en": "Thank you", "de": "Danke"}[language])


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_sheet_is_noted_and_joined_without_script(desk: Desk, address: str, browser: Browser, language: str) -> None:
    with window(browser, address, SIZES["smallest phone"], script=False) as page:
        come_in(desk, address, page, "coach")
        page.goto(f"{address}/language/{language}")
        page.goto(f"{address}{SHEET}")
        told = page.locator("form.next .quiet-note")
        expect(told).to_contain_text("1")
        page.get_by_role("button", name={"en": "Struck", "de": "Geschlagen"}[language], exact=True).tap()
        expect(told).to_contain_text({"en": "Shot 2 of 33", "de": "Schlag 2 von 33"}[language])
        page.get_by_role("button", name={"en": "Take shot 1 back", "de": "Schlag 1 zurücknehmen"}[language]).tap()
        expect(told).to_contain_text({"en": "Shot 1 of 33", "de": "Schlag 1 von 33"}[language])
        page.goto(f"{address}{SHEET}/file?on=2026-01-12&session=h-t")
        assert page.locator("table.beside tbody tr").count() == 33
        name = {"en": "They belong together: label the shots", "de": "Sie gehören zusammen: Schläge zuordnen"}[language]
        page.get_by_role("button", name=name).tap()
        page.wait_for_url("**/sheets?done=labelled")


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_form_that_ends_a_trial_fits_and_works_without_script(
    desk: Desk, address: str, browser: Browser, language: str
) -> None:
    with window(browser, address, SIZES["smallest phone"]) as page:
        come_in(desk, address, page, "coach", f"coach-{language}")
        page.goto(f"{address}/language/{language}")
        page.goto(f"{address}/sheets")
        page.locator("details summary").first.tap()
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        assert violations(page) == []
        if folder := os.environ.get("PICTURES"):
            page.screenshot(path=f"{folder}/end-{language}.png", full_page=True)
    before = set(desk.workspace.inbox.glob("trials_*_desk-*"))
    with window(browser, address, SIZES["smallest phone"], script=False) as page:
        come_in(desk, address, page, "coach", f"coach-{language}")
        page.goto(f"{address}/language/{language}")
        page.goto(f"{address}/sheets")
        form = page.locator('form[action$="/end"]')
        page.locator("details summary").first.tap()
        form.locator("select").select_option("stopped")
        form.locator("button").tap()
        page.wait_for_url("**/sheets?done=ended")
        if folder:
            page.screenshot(path=f"{folder}/ended-{language}.png", full_page=True)
    (file,) = set(desk.workspace.inbox.glob("trials_*_desk-*")) - before
    file.unlink()


def test_answers_without_a_connection_are_kept_and_handed_in_when_it_is_back(desk: Desk, address: str, browser: Browser) -> None:
    before = set(desk.workspace.inbox.glob("checkins_*_desk-*"))
    with window(browser, address, SIZES["phone"]) as page:
        come_in(desk, address, page, "player", "heron")
        for _ in range(100):
            laid = page.evaluate("caches.open('forms').then((shelf) => shelf.keys()).then((keys) => keys.length)")
            if laid >= 7 and page.evaluate("navigator.serviceWorker.controller !== null"):
                break
            page.wait_for_timeout(100)
        page.context.set_offline(True)
        page.goto(f"{address}/checkin")  # opens from the browser's own store
        page.locator("#q-fatigue label").nth(5).tap()
        page.get_by_role("button", name="Hand in").tap()
        expect(page.locator("#news")).to_contain_text("No connection", timeout=30000)
        assert set(desk.workspace.inbox.glob("checkins_*_desk-*")) == before
        page.context.set_offline(False)
        expect(page.locator("#news")).to_contain_text("have been handed in", timeout=30000)
        assert page.evaluate("Object.keys(localStorage)") == []
    (made,) = set(desk.workspace.inbox.glob("checkins_*_desk-*")) - before
    assert made.read_text(encoding="utf-8").splitlines()[1].startswith("heron,")


def test_what_one_player_left_on_a_phone_is_not_handed_in_as_anothers(desk: Desk, address: str, browser: Browser) -> None:
    before = set(desk.workspace.inbox.glob("*_desk-*"))
    with browser.new_context(service_workers="block") as context:
        page = context.new_page()
        come_in(desk, address, page, "player", "heron")
        page.goto(f"{address}/score")
        context.set_offline(True)
        page.locator("#strokes").fill("77")
        page.get_by_role("button", name="Hand in").click()
        expect(page.locator("#news")).to_contain_text("No connection", timeout=30000)
        page.close()
        context.set_offline(False)
        context.clear_cookies()
        other = context.new_page()
        come_in(desk, address, other, "player", "wren")
        other.wait_for_timeout(500)
        assert other.locator("#news").inner_text() == ""
    assert set(desk.workspace.inbox.glob("*_desk-*")) == before


@pytest.mark.parametrize(("language", "width", "script"), [("en", 1280, True), ("de", 320, False)])
def test_files_are_dropped_seen_and_those_that_are_ticked_loaded(
    desk: Desk, address: str, browser: Browser, language: str, width: int, script: bool
) -> None:
    words = words_of(language)
    with window(browser, address, (width, 800), script=script) as page:
        come_in(desk, address, page, "data")
        page.goto(f"{address}/language/{language}")
        page.goto(f"{address}/drop")
        bad = b"player_id,date,fatigue\nheron,2026-01-02,99\n"
        good = f"player_id,alias\nowl-{language},Owl {language}\n".encode()
        page.locator("#files").set_input_files(
            [
                {"name": "players_new.csv", "mimeType": "text/csv", "buffer": good},
                {"name": "checkins_bad.csv", "mimeType": "text/csv", "buffer": bad},
            ]
        )
        page.get_by_role("button", name=words("desk.drop.read")).click()
        page.wait_for_url("**/drop?drop=*")
        assert words("problem.allowed.out_of_range", low="0", high="10", unit="") in page.locator("table.problems").inner_text()
        assert script is False or violations(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        page.get_by_label(words("desk.drop.tick", name="checkins_bad.csv")).uncheck()
        page.get_by_role("button", name=words("desk.drop.accept_ticked")).click()
        page.wait_for_url("**/drop?drop=*&done=accepted_some")
        assert page.get_by_role("heading", name="players_new.csv").count() == 0
        assert page.get_by_role("heading", name="checkins_bad.csv").count() == 1
        page.get_by_role("button", name=words("desk.drop.undo"), exact=True).click()
        page.wait_for_url("**/drop?done=undone")
    take_in_waiting(Night(desk.workspace, NOW + timedelta(hours={"en": 1, "de": 2}[language])))
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select alias from player where player_id = ?", [f"owl-{language}"]) == f"Owl {language}"


@pytest.mark.parametrize(("language", "width", "script"), [("en", 1280, True), ("de", 320, False)])
def test_a_refused_file_is_corrected_and_loaded(
    desk: Desk, address: str, browser: Browser, language: str, width: int, script: bool
) -> None:
    folder = f"bay {language}"
    with window(browser, address, (width, 800), script=script) as page:
        come_in(desk, address, page, "data")
        page.goto(f"{address}/language/{language}")
        page.goto(f"{address}/drop")
        page.locator(f'a[href="{_mapping_page(folder)}"]').click()
        first = page.locator(".preview tbody tr").first
        expect(first).to_contain_text({"en": "44.0", "de": "44,0"}[language])  # 98.5 mph
        page.locator("#unit-4").focus()
        page.locator("#unit-4").select_option("km/h")
        if not script:
            page.get_by_role("button", name={"en": "Preview", "de": "Vorschau"}[language]).click()
        expect(first).to_contain_text({"en": "27.4", "de": "27,4"}[language], timeout=20000)  # 98.5 km/h: the preview follows
        if script:
            expect(page.locator("#followed")).to_contain_text("follows")
            assert page.evaluate("document.activeElement.id") == "unit-4"
        page.locator("#take-5").select_option("club_speed_mps")
        page.get_by_role("button", name={"en": "Hand in", "de": "Abgeben"}[language]).click()
        expect(page.locator("#take-5-error")).to_be_visible(timeout=20000)
        assert script is False or violations(page) == []
        page.locator("#take-5").select_option("carry_m")
        page.locator("#unit-4").select_option("mph")
        page.get_by_role("button", name={"en": "Hand in", "de": "Abgeben"}[language]).click()
        page.wait_for_url("**/drop?done=corrected")
    take_in_waiting(Night(desk.workspace, NOW + timedelta(days=30)))
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        found = scalar(con, "select count(*) from shot join file using (file_id) where mapping = ?", [folder])
    assert found == 12
