"""A federation's pages as a reader meets them: at 320, 390 and 1280 px, in the dark, on paper, with the rules of WCAG 2.2."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from schemas.academy import Units
from tests.broad import some_of
from tests.browser.conftest import chromium_path
from tests.browser.paper import on_paper
from tests.browser.test_pages import MEASURE, drawn, opened, unmarked_charts, violations
from tests.conftest import built_once
from tests.flow.shared_rows import LOOK, NAMES, TODAY, fill

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

PAGES = ("index.html", "speed-blocks.html", "data.html", "methods.html")
LANGUAGES = ("en", "de")
SCREENS = (1280, 390, 320)


def _build(root: Path) -> None:
    """Both languages, of four academies that shared, one that did not, and a file that cannot be read."""
    from pipelines.stages.federation_report import roll_up  # noqa: PLC0415 - heavy
    from pipelines.stages.shared_folder import open_shared  # noqa: PLC0415

    folder = open_shared(str(root / "shared"), root / "shared")
    fill(folder)
    damaged = root / "shared" / "academy=east" / "month=2026-02" / "other.parquet"
    damaged.write_bytes(b"no table")
    german = replace(LOOK, name="Die Küste", language="de", units=Units("km/h", "m"))
    for look in (LOOK, german):
        roll_up(folder, look, root / look.language, TODAY, (*NAMES, "island"))


@pytest.fixture(scope="session")
def federation_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that holds ``en`` and ``de``."""
    chromium_path()
    return built_once(tmp_path_factory, "federation-sites", _build)


@pytest.mark.parametrize(("name", "language"), some_of([(name, language) for name in PAGES for language in LANGUAGES], every=3))
def test_a_federations_page_reads_well_everywhere(browser: Browser, federation_site: Path, name: str, language: str) -> None:
    with opened(browser, federation_site / language / "federation" / name) as (page, heard):
        faults: dict[str, list[object]] = {"paper": [*on_paper(page)]}
        page.emulate_media(media="null")
        for width in SCREENS:
            page.set_viewport_size({"width": width, "height": 900})
            drawn(page)
            faults[f"{width} px"] = [*page.evaluate(MEASURE), *unmarked_charts(page)]
        assert heard.errors == []
        assert [url for url in heard.requests if not url.startswith(("file:", "data:"))] == []
        if language == "en":
            for width in SCREENS[:2]:
                page.set_viewport_size({"width": width, "height": 900})
                drawn(page)
                faults[f"rules at {width} px"] = [*violations(page)]
            page.emulate_media(color_scheme="dark")
            faults["dark"] = [*violations(page, runOnly=["color-contrast", "link-in-text-block"])]
        assert {where: what for where, what in faults.items() if what} == {}
