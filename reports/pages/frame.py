"""The page frame: head with a strict content-security policy, masthead, navigation, footer."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

import jinja2
from markupsafe import Markup

from reports.pages.parts import cautions
from reports.shared_files import static_file
from schemas.errors import RenderError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from reports.pages.context import PageContext
    from reports.shared_files import SharedFiles

POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; base-uri 'none'; form-action 'none'"
"""Scripts and styles only from the site's own files: no inline script, no inline style, no network, no form."""


PATH = re.compile(r"([A-Za-z0-9][A-Za-z0-9_.-]*/)*[A-Za-z0-9][A-Za-z0-9_.-]*\.html")


@dataclass(frozen=True)
class Page:
    """One page, before it is framed.

    Attributes
    ----------
    path : str
        Below the audience's folder (players' site: below the player's own folder).
    title : str
    body : Markup
    lead : str or Markup
        The page's question answered in one sentence.
    group_leads : mapping
        The same of the players of one group alone, by the group's name; empty where it counts nobody.
    above : str or Markup
        A line above the title: where this page belongs.
    nav : str
        Word key of its navigation entry; empty: none.
    order : int
        Place in the navigation.
    kind : str
        Classes of the page's body element: ``page``, ``page wide`` (prints across), or ``sheet`` (one printed side).
    body_shown : bool
        Load or body is shown: print the cautions and the prompt-care list.
    """

    path: str
    title: str
    body: Markup
    lead: str | Markup = ""
    group_leads: Mapping[str, str] = field(default_factory=dict)
    above: str | Markup = ""
    nav: str = ""
    order: int = 50
    kind: str = "page"
    body_shown: bool = False


@dataclass(frozen=True)
class Part:
    """A section of a page that several modules make together.

    Attributes
    ----------
    order : int
        Its place from top to bottom.
    markup : Markup
        Empty: nothing is shown.
    body_shown : bool
        It shows load or body: the page prints the cautions.
    label : str
        Word key of its entry in the page's strip of contents, below ``player.part``; empty: none. It is the section's anchor too.
    """

    order: int
    markup: Markup
    body_shown: bool = False
    label: str = ""


@dataclass(frozen=True)
class NavEntry:
    """One entry of the navigation: path from the audience's root, and label."""

    path: str
    label: str


@dataclass(frozen=True)
class Surroundings:
    """What stands around every page of one site.

    Attributes
    ----------
    nav : sequence of NavEntry
    files : SharedFiles
        Names of the shared files; see :mod:`reports.shared_files`.
    methods : str
        Path of the methods page from the root; empty: none.
    edition : str
        Words beside the academy's name.
    players : sequence of NavEntry
        The players' pages in the order in which they are turned over; empty in a player's own folder.
    """

    nav: Sequence[NavEntry]
    files: SharedFiles
    methods: str = ""
    edition: str = ""
    players: Sequence[NavEntry] = ()


@cache
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.PackageLoader("reports", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def template(name: str) -> jinja2.Template:
    """A template of ``reports/templates``; everything in it is escaped unless it is ``Markup``."""
    return _environment().get_template(name)


def _checked(path: str) -> str:
    if not PATH.fullmatch(path) or ".." in path:
        raise RenderError(f"A page wants the path {path!r}.", "Paths are made of file-safe ids and end in .html.")
    return path


def _day(day: date | None, context: PageContext) -> str:
    return context.words.short_day(day) if day else ""


def neighbours(path: str, players: Sequence[NavEntry]) -> list[tuple[str, NavEntry]]:
    """The pages of the player before and after this one, as ``("prev", entry)`` and ``("next", entry)``."""
    place = next((number for number, entry in enumerate(players) if entry.path == path), None)
    if place is None:
        return []
    sides = (("prev", place - 1), ("next", place + 1))
    return [(side, players[number]) for side, number in sides if 0 <= number < len(players)]


NOTICED = ('class="chart"', 'class="what-if"', 'id="compare-data"', " data-sortable")
"""What the frame looks for in what it frames: which scripts a page needs, and what they say."""


def noticed(markup: str) -> frozenset[str]:
    """What of this stands in some markup."""
    return frozenset(mark for mark in NOTICED if mark in markup)


def framed(
    page: Page,
    context: PageContext,
    around: Surroundings,
    *,
    below: str = "",
    day: date | None = None,
    groups: str | Markup = "",
) -> str:
    """The whole page as HTML.

    Parameters
    ----------
    page : Page
    context : PageContext
    around : Surroundings
    below : str
        Folder between the audience's root and the page's own path (a player's own folder), ending in ``/``.
    day : date, optional
        Last day with data, printed at the head of every side; pages about one player do not print it.
    groups : Markup, optional
        The choice of a group, on pages about many players.

    Raises
    ------
    RenderError
        When the page's path is not file-safe.
    """
    path = below + _checked(page.path)
    return template("frame.html").render(
        page=page,
        words=context.words,
        language=context.words.language,
        academy=context.academy.name,
        policy=POLICY,
        root="../" * path.count("/"),
        files=around.files,
        noticed=noticed(page.body),
        nav=around.nav,
        running=" · ".join(part for part in (context.academy.name, page.title, around.edition, _day(day, context)) if part),
        neighbours=neighbours(path, around.players),
        edition=around.edition,
        on_day=_day(day, context),
        methods=around.methods,
        groups=groups,
        cautions=cautions(context.words) if page.body_shown else "",
    )


def single(page: Page, context: PageContext) -> str:
    """The page as one file without scripts, to send or to keep: charts are pictures, styles are inside.

    ``context`` must have been made with ``with_scripts=False`` before the page's body was.
    """
    style = static_file("print.css")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return template("single.html").render(
        page=page,
        words=context.words,
        language=context.words.language,
        academy=context.academy.name,
        policy=f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; base-uri 'none'; form-action 'none'",
        style=Markup(style),  # noqa: S704 - our own file
        cautions=cautions(context.words) if page.body_shown else "",
    )
