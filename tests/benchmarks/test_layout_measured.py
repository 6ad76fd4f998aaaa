"""Layout as measured in the browser, over more than 200 simulated players: every kind of page at three widths and on paper.

Nine squads of other seeds, lengths and both languages. A page that stands for each player is measured at one width, in turn,
or on paper; every kind at all widths and on paper, in each squad.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import cycle
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipelines.demo.academy import write_academy
from pipelines.measures.references import BIBLIOGRAPHY
from pipelines.runs import Night, run_night
from pipelines.workspace import create_workspace
from reports.site import build_site
from schemas.academy import Units
from tests.browser.conftest import SWITCHES, chromium_path
from tests.browser.kinds import BY_PLAYER, KINDS
from tests.browser.paper import MEASURE, on_paper
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

pytestmark = pytest.mark.benchmark

ENDS = (
    date(2026, 9, 30),
    date(2024, 9, 30),
    date(2026, 3, 31),
    date(2025, 3, 31),
    date(2025, 9, 24),
    date(2024, 6, 30),
    date(2026, 6, 30),
    date(2025, 12, 31),
    date(2026, 8, 31),
)
"""Last day of each squad: from three months of data to thirty."""
PLAYERS, FIRST_SEED = 24, 200
WIDTHS = (390, 768, 1440)
PAPER = 0
"""In place of a width: printed."""
WAYS = (*WIDTHS, PAPER)
DRAWN = (
    "[...document.querySelectorAll('.chart[data-kind]')].every("
    "c => c.dataset.drawn && (!c.clientWidth || c.dataset.drawnAt === String(c.clientWidth)))"
)


def site(folder: Path, number: int) -> Path:
    """The sites of one squad, every second one in German."""
    end = ENDS[number]
    workspace = create_workspace(folder / f"squad{number}")
    write_academy(workspace.root, FIRST_SEED + number, end, PLAYERS)
    run_night(Night(workspace, datetime(end.year, end.month, end.day, 21, tzinfo=UTC)))
    academy = workspace.academy()
    if number % 2:
        academy = replace(academy, language="de", units=Units("km/h", "m"))
    made = folder / f"site{number}"
    with open_warehouse(workspace.warehouse) as con:
        sources = tuple(BIBLIOGRAPHY.values())
        build_site(con, academy, made, as_of=end, sources=sources, site_key=workspace.site_key())
    return made


def chosen(folder: Path) -> Iterator[tuple[str, Path, int]]:
    """Kind, page and way: the fullest page of each kind in every way, and every other page of players in one."""
    turns = cycle(WAYS)
    for kind in KINDS:
        pages = sorted(folder.glob(kind), key=lambda path: (-path.stat().st_size, path.name))
        for place, path in enumerate(pages):
            for way in WAYS if place == 0 else (next(turns),) if kind in BY_PLAYER else ():
                yield kind, path, way


def until_drawn(page: Page) -> None:
    for _ in range(600):
        if page.evaluate(DRAWN):
            return
        page.wait_for_timeout(20)
    pytest.fail("the charts were not drawn")


def measured(folder: Path) -> list[tuple[str, str, int, str]]:
    """Kind, page, way and fault, for all that is wrong in one folder of sites; last row: how many were looked at."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - in a process of its own

    found: list[tuple[str, str, int, str]] = []
    n_looks = 0
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium_path(), args=SWITCHES)
        page = browser.new_page(reduced_motion="reduce")
        for kind, path, way in chosen(folder):
            page.emulate_media(media="null", reduced_motion="reduce")
            page.set_viewport_size({"width": way or 1200, "height": 900})
            page.goto(path.as_uri())
            until_drawn(page)
            faults = page.evaluate(MEASURE) if way else on_paper(page)
            found += [(kind, str(path.relative_to(folder)), way, fault) for fault in faults]
            n_looks += 1
        browser.close()
    return [*found, ("looks", "", 0, str(n_looks))]


def report(found: list[tuple[str, str, int, str]], most: int = 4) -> str:
    """How many of each kind of fault, and some of each."""
    counts = Counter(fault.partition(":")[0] for _, _, _, fault in found)
    some: dict[str, list[str]] = defaultdict(list)
    for kind, path, way, fault in found:
        name = fault.partition(":")[0]
        if len(some[name]) < most and not any(f" {kind} " in line and fault in line for line in some[name]):
            some[name].append(f"   {way or 'paper'} {kind} {path}: {fault}")
    return "\n".join(f"{name}: {n}\n" + "\n".join(some[name]) for name, n in counts.most_common()) or "none"


def test_the_layout_of_two_hundred_players(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("layout")
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as crew:
        folders = [site(folder, number) for number in range(len(ENDS))]
        every = [row for rows in crew.map(measured, folders) for row in rows]
    found = [row for row in every if row[0] != "looks"]
    n_looks = sum(int(row[3]) for row in every if row[0] == "looks")
    print(f"\n{PLAYERS * len(ENDS)} players, {n_looks} looks\n{report(found)}")  # noqa: T201 - a benchmark reports
    assert found == []
