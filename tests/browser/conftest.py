"""A real browser on a real site: a small invented academy, taken through a night, in both languages."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from schemas.academy import Units
from tests.conftest import built_once

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

LAST_ON = date(2025, 9, 24)
INSTALL = "no Chromium found: install it with `apt-get install chromium`"
WCAG_22 = {"target-size": {"enabled": True}}
"""The one rule of WCAG 2.2 that the accessibility engine knows, which it leaves off unless asked."""
BINARIES = ("chromium", "chromium-browser", "google-chrome")
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-sync",
    "--js-flags=--min-semi-space-size=64,--max-semi-space-size=64",  # charts leave much garbage: it is looked for less often
]


def chromium_path() -> str:
    """The browser's program; without one the test is skipped, or fails where it must be there."""
    found = next((path for name in BINARIES if (path := shutil.which(name))), None)
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail(INSTALL)
        pytest.skip(INSTALL)  # no browser on this machine; with CI=true it is a failure (above)
    return found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where a browser is used

    path = chromium_path()
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=path, args=SWITCHES)
        yield opened
        opened.close()


@dataclass(frozen=True)
class Sites:
    """The folder that holds ``en`` and ``de``, each with coach, physio and players."""

    root: Path

    def first(self, language: str, pattern: str) -> Path:
        """The largest page that fits the pattern, so that the fullest of its kind is looked at."""
        found = sorted((self.root / language).glob(pattern), key=lambda path: (-path.stat().st_size, path.name))
        assert found, f"no page fits {pattern}"
        return found[0]


def _build(root: Path) -> None:
    from pipelines.demo.academy import write_academy  # noqa: PLC0415 - heavy
    from pipelines.measures.references import BIBLIOGRAPHY  # noqa: PLC0415
    from pipelines.runs import Night, run_night  # noqa: PLC0415
    from pipelines.workspace import create_workspace  # noqa: PLC0415
    from reports.site import build_site  # noqa: PLC0415
    from warehouse.connection import open_warehouse  # noqa: PLC0415

    workspace = create_workspace(root / "academy")
    write_academy(workspace.root, 7, LAST_ON, 11)
    run_night(Night(workspace, datetime(2025, 9, 24, 21, tzinfo=UTC)))
    workspace.site.rename(root / "en")
    german = replace(workspace.academy(), language="de", units=Units("km/h", "m"))
    with open_warehouse(workspace.warehouse) as con:
        sources = tuple(BIBLIOGRAPHY.values())
        build_site(con, german, root / "de", as_of=LAST_ON, sources=sources, site_key=workspace.site_key())


@pytest.fixture(scope="session")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Sites:
    """The demo's sites, built once."""
    chromium_path()
    return Sites(built_once(tmp_path_factory, "browser-sites", _build))
