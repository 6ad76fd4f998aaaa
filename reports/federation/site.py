"""Builds the federation's site: a few pages, laid and exchanged like those of an academy."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports import shelf
from reports.federation.completeness import completeness_page
from reports.federation.levels import levels_page
from reports.federation.speed_blocks import blocks_page
from reports.pages.context import Source, page_context
from reports.pages.frame import NavEntry, Page, Surroundings, framed
from reports.pages.methods import federation_methods
from reports.pages.parts import link, paragraph
from reports.shared_files import shared_files, shared_names
from schemas.results import SiteOutcome

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date
    from pathlib import Path

    from reports.federation.facts import FederationFacts
    from schemas.academy import Academy

FOLDER = "federation"


def build_federation_site(
    facts: FederationFacts, look: Academy, site_dir: Path, *, as_of: date, sources: Sequence[Source]
) -> SiteOutcome:
    """Build the site into ``site_dir / "federation"``, and put it in place in one step.

    Parameters
    ----------
    facts : FederationFacts
    look : Academy
        Name of the federation, language and units.
    site_dir : Path
    as_of : date
        Last day of the newest month.
    sources : sequence of Source
        The bibliography; the methods page prints what it cites.

    Raises
    ------
    RenderError
        When a page cannot be made or the folder cannot be written.
    """
    context = page_context(look, "data", as_of, sources)
    pages = [levels_page(facts, context), blocks_page(facts, context), completeness_page(facts, context)]
    pages.append(federation_methods(context))
    nav = [NavEntry(page.path, context.words(page.nav)) for page in sorted(pages, key=lambda page: page.order)]
    around = Surroundings(nav, shared_names(context), "methods.html", context.words("frame.edition.federation"))
    with shelf.new_site(site_dir) as site:
        for name, make in shared_files(context).items():
            site.put_named(f"{FOLDER}/assets/{name}", make)
        for page in pages:
            site.put(f"{FOLDER}/{page.path}", framed(page, context, around, day=as_of).encode())
        for path in site.no_longer_made(FOLDER):
            below = path.removeprefix(f"{FOLDER}/")
            start = link(context.href(below, "index.html"), context.words("gone.start"))
            gone = Page(below, context.words("gone.title"), paragraph(start), lead=context.words("gone.lead"))
            site.put_gone(path, framed(gone, context, around))
    return SiteOutcome(site.n_written, site.n_unchanged, str(site_dir / FOLDER / "index.html"))
