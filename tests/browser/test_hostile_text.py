"""Injection payloads never run in a real browser, and the content-security policy holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.broad import some_of
from tests.browser.test_pages import opened
from tests.report.conftest import build, fill
from tests.report.test_hostile import every_kind, spoil
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser


SLIP_IN = """() => {
  const script = document.createElement("script");
  script.textContent = "window.hit = 1";
  const holder = document.createElement("div");
  holder.innerHTML = '<img src=x onerror="window.hit = 2">';
  document.body.append(script, holder);
}"""


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hostile")
    with open_warehouse(folder / "a.duckdb") as con:
        fill(con)
        every_kind(con)
        build(con, folder / "each")
        spoil(con)
        build(con, folder / "all")
    return folder


@pytest.mark.parametrize("site", ["each", "all"])
@pytest.mark.parametrize(
    "page", some_of(["coach/players/p1.html", "coach/index.html", "coach/data.html", "coach/squad.html"], every=2)
)
def test_no_payload_runs(browser: Browser, hostile: Path, site: str, page: str) -> None:
    with opened(browser, hostile / site / page) as (shown, heard):
        shown.on("dialog", lambda dialog: heard.errors.append(dialog.message))
        for details in shown.locator("summary").all()[:4]:
            details.click()
        assert shown.evaluate("window.hit === undefined")
        assert heard.errors == []
        assert [url for url in heard.requests if not url.startswith(("file:", "data:"))] == []


def test_the_policy_refuses_a_script_and_a_style_that_slipped_in(browser: Browser, hostile: Path) -> None:
    with opened(browser, hostile / "each/coach/index.html") as (page, heard):
        page.evaluate(SLIP_IN)
        page.wait_for_timeout(200)
        assert page.evaluate("window.hit === undefined")
        assert any("Content Security Policy" in error for error in heard.errors)
