"""Pictures for the documents, taken from the demo's pages: ``python -m tests.browser.take_pictures demo-academy``."""

from __future__ import annotations

import sys
import tempfile
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from playwright.sync_api import sync_playwright

from pipelines.demo.cast import LAST_ON
from pipelines.runs import Night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.workspace import create_workspace
from tests.browser.conftest import SWITCHES, chromium_path
from tests.browser.test_pages import drawn
from tests.flow.conftest import drop
from tests.flow.desk_visitor import opened_desk, served_desk

if TYPE_CHECKING:
    from playwright.sync_api import Browser

MORNING = datetime.combine(LAST_ON + timedelta(days=1), time(6), UTC)
"""When the pages are read: the morning after the demo's last day."""
PICTURES = Path(__file__).parents[2] / "reports" / "pictures"

TAKEN: tuple[tuple[str, str, int, int, str], ...] = (
    ("today", "coach/index.html", 1180, 980, ""),
    ("squad", "coach/squad.html", 1180, 760, ""),
    ("player", "coach/players/p16.html", 1180, 1180, ""),
    ("tradeoff", "coach/players/p16.html", 1180, 900, "section:has(.chart[data-kind=tradeoff])"),
    ("season", "coach/season/p16.html", 794, 1080, ""),
    ("compare", "coach/compare.html", 1180, 760, ""),
    ("trial", "coach/trials/trial-02.html", 1180, 980, ""),
    ("programme", "coach/programme.html", 1180, 820, ""),
    ("data", "coach/data.html", 1180, 900, ""),
    ("review", "physio/review/p17.html", 794, 1080, ""),
    ("body-map", "physio/body-map.html", 1180, 760, ""),
    ("own-page", "players/*/index.html", 390, 844, ""),
)
"""Name, page, width and height in px, and the part of the page that is taken (empty: its top)."""


def take(browser: Browser, site: Path, name: str, page_path: str, size: tuple[int, int], part: str) -> None:
    """One picture."""
    path = min(site.glob(page_path), key=lambda each: each.name)
    page = browser.new_page(viewport={"width": size[0], "height": size[1]}, reduced_motion="reduce")
    page.clock.set_fixed_time(MORNING)  # read on another day, the first page would say that it is old
    page.goto(path.as_uri())
    drawn(page)
    if name in {"review", "season"}:
        page.emulate_media(media="print")
    top = page.locator(part).first.bounding_box()["y"] if part else 0  # type: ignore[index]
    clip = {"x": 0, "y": max(0, top - 8), "width": size[0], "height": size[1]}
    page.screenshot(path=PICTURES / f"{name}.png", clip=clip, full_page=True)  # type: ignore[arg-type]
    page.close()


FOREIGN = "Spieler;Datum;Uhrzeit;Schläger;Schlägertempo;Ballgeschw. (km/h);Carry (yd);Seite;Bemerkung\n" + "".join(
    f"heron;{3 + n % 2:02}.02.2026;17:{n:02};Driver;{98 + n % 3},{n % 10};{220 + n},5;{230 + n};{n - 6},5;\n" for n in range(12)
)
"""What a device wrote that nobody knows here."""


def take_desk(browser: Browser) -> None:
    """How a foreign file is read, at the desk of a small academy."""
    at = datetime(2026, 2, 5, 9, tzinfo=UTC)
    with tempfile.TemporaryDirectory() as folder:
        made = create_workspace(Path(folder) / "lakeside", default_settings("Lakeside", "Europe/Berlin"))
        drop(made)
        (made.inbox / "bay").mkdir()
        (made.inbox / "bay" / "export.csv").write_text(FOREIGN, encoding="utf-8")
        take_in_waiting(Night(made, at))
        desk = opened_desk(made, lambda: at)
        with served_desk(desk) as port:
            page = browser.new_page(viewport={"width": 1180, "height": 1180}, reduced_motion="reduce")
            page.goto(f"http://127.0.0.1:{port}/p/{desk.keys.personal_link('data', 'data', at)}")
            page.goto(f"http://127.0.0.1:{port}/drop")
            page.locator('a[href^="/mapping/"]').click()
            page.screenshot(path=PICTURES / "mapping.png")
            page.close()


def main() -> None:
    site = Path(sys.argv[1]).resolve() / "site"
    PICTURES.mkdir(exist_ok=True)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium_path(), args=SWITCHES)
        for name, page, width, height, part in TAKEN:
            if list(site.glob(page)):
                take(browser, site, name, page, (width, height), part)
        take_desk(browser)
        browser.close()


if __name__ == "__main__":
    main()
