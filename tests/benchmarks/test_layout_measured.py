"""Layout as measured in the browser, over more than 200 simulated players: every kind of page at three widths and on paper.

Nine squads of other seeds, lengths and both languages, each a test of its own (``-k squad4`` runs one). Every page is
opened once, and looked at in all widths and, at one of them, in dark; the fullest of every kind on paper too, and every fourth of
those that stand for each player.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import cycle, groupby
from typing import TYPE_CHECKING, Literal, NamedTuple

import pytest

from pipelines.demo.academy import write_academy
from pipelines.measures.references import BIBLIOGRAPHY
from pipelines.runs import Night, run_night
from pipelines.workspace import create_workspace
from reports.site import build_site
from schemas.academy import Units
from tests.browser.conftest import browser
from tests.browser.kinds import BY_PLAYER, KINDS
from tests.browser.paper import MEASURE, on_paper
from tests.browser.test_pages import ALL_DRAWN
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

__all__ = ["browser"]

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


class Way(NamedTuple):
    """How a page is looked at: its width [px], or :data:`PAPER`; and the scheme of its colours."""

    width: int
    scheme: Literal["light", "dark"] = "light"

    def __str__(self) -> str:
        return f"{self.width} {self.scheme}" if self.width else "paper"


LIES_ACROSS = "document.body.classList.contains('wide')"
"""Whether a page is printed across; a side is then 1010 px wide between its margins, else 680."""
ON_PAPER_OF = 4
"""Of so many pages that stand for players one is printed, beside the fullest."""


class Fault(NamedTuple):
    """What is wrong with a page, seen in one way."""

    kind: str
    path: str
    way: Way
    what: str

    def __str__(self) -> str:
        return f"{self.way} {self.kind} {self.path}: {self.what}"


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


def chosen(folder: Path) -> Iterator[tuple[str, Path, list[Way]]]:
    """Kind, page and ways: the fullest page of each kind, and every page of players.

    A width in dark follows the same in light, so that no chart is drawn anew for it; paper is the last.
    """
    turns, dark = cycle(range(ON_PAPER_OF)), cycle(WIDTHS)
    for kind in KINDS:
        pages = sorted(folder.glob(kind), key=lambda path: (-path.stat().st_size, path.name))
        for place, path in enumerate(pages if kind in BY_PLAYER else pages[:1]):
            turned = next(dark)
            ways = [way for width in WIDTHS for way in (Way(width), *([Way(width, "dark")] if width == turned else []))]
            yield kind, path, [*ways, *([Way(PAPER)] if place == 0 or next(turns) == 0 else [])]


def until_drawn(page: Page) -> None:
    for _ in range(600):
        if page.evaluate(ALL_DRAWN):
            return
        page.wait_for_timeout(20)
    pytest.fail("the charts were not drawn")


def measured(folder: Path, browser: Browser) -> tuple[list[Fault], int]:
    """All that is wrong in one folder of sites, and how many looks were taken."""
    found: list[Fault] = []
    n_looks = 0
    for kind, pages in groupby(chosen(folder), key=lambda one: one[0]):
        page = browser.new_page(reduced_motion="reduce")  # one for all pages would grow by a gigabyte
        for _, path, ways in pages:
            look_in(page, ways[0])
            page.goto(path.as_uri())
            for way in ways:
                look_in(page, way)
                until_drawn(page)
                faults = page.evaluate(MEASURE) if way.width else on_paper(page)
                found += [Fault(kind, str(path.relative_to(folder)), way, fault) for fault in faults]
                n_looks += 1
        page.close()
    return found, n_looks


def look_in(page: Page, way: Way) -> None:
    """Turn the window to a way of looking; charts draw themselves anew for another width."""
    page.emulate_media(media="null", reduced_motion="reduce", color_scheme=way.scheme)
    page.set_viewport_size({"width": way.width or (1010 if page.evaluate(LIES_ACROSS) else 680), "height": 900})


def report(found: list[Fault], most: int = 4) -> str:
    """How many of each kind of fault, and some of each."""
    by_name: dict[str, list[Fault]] = defaultdict(list)
    for fault in found:
        by_name[fault.what.partition(":")[0]].append(fault)
    lines: list[str] = []
    for name, faults in sorted(by_name.items(), key=lambda item: -len(item[1])):
        once = {(fault.kind, fault.what): fault for fault in faults}
        lines += [f"{name}: {len(faults)}", *(f"   {fault}" for fault in list(once.values())[:most])]
    return "\n".join(lines) or "none"


@pytest.mark.parametrize("number", range(len(ENDS)), ids=lambda number: f"squad{number}")
def test_the_layout_of_a_squad(tmp_path: Path, browser: Browser, number: int) -> None:
    found, n_looks = measured(site(tmp_path, number), browser)
    print(f"\nsquad {number}: {PLAYERS} players, {n_looks} looks\n{report(found)}")  # noqa: T201 - a benchmark reports
    assert found == []
