"""Builds the sites: one folder for the coach, one for the physio, one for whoever looks after the data, one for each player.

Only pages whose content changed are written; the others are linked from the site before. The new site is laid beside the
old one and put in its place in one step, so a reader never meets half of it. A page that is no longer made leaves a line
behind that says so, unless it was about a player who is gone.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import polars as pl

from reports import shelf
from reports.pages import page_modules
from reports.pages.context import PageContext, Printed, Source, page_context
from reports.pages.frame import NavEntry, Page, Surroundings, framed, neighbours
from reports.pages.groups import group_choice
from reports.pages.parts import link, paragraph
from reports.player_work import FOLDER, Rooms, Work, group_folder, pages_of_players, wanted
from reports.shared_files import program_stamp, shared_files, shared_names
from reports.standing import asked, entry_of
from reports.tokens import player_token
from schemas.natural_order import natural
from schemas.results import SiteOutcome
from schemas.spreadsheet import csv_of
from warehouse.marts import MartCache, Marts, members_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date
    from pathlib import Path

    from reports.player_work import Processes
    from schemas.academy import Academy
    from warehouse.marts import Connection


@dataclass(frozen=True)
class _Room:
    """One audience's site while it is built."""

    context: PageContext
    marts: Marts
    work: Work

    @property
    def around(self) -> Surroundings:
        return self.work.around

    @property
    def folder(self) -> str:
        return self.work.folder


def _shared_pages(marts: Marts, one_context: PageContext) -> list[Page]:
    return [page for module in page_modules() if hasattr(module, "pages") for page in module.pages(marts, one_context)]


def _navigation(pages: Sequence[Page], one_context: PageContext) -> list[NavEntry]:
    ordered = sorted((page for page in pages if page.nav), key=lambda page: (page.order, page.path))
    return [NavEntry(page.path, one_context.words(page.nav)) for page in ordered]


def _turned_over(marts: Marts, one_context: PageContext) -> list[NavEntry]:
    """Pages of the players who are there, by name: to go from one to the next."""
    if one_context.audience not in {"coach", "physio"}:
        return []
    there = marts.rows("mart_player").filter(~pl.col("has_left")).sort(natural("alias"), "player_id")
    return [NavEntry(one_context.player_path(player), alias) for player, alias in there.select("player_id", "alias").iter_rows()]


def _surroundings(pages: Sequence[Page], marts: Marts, one_context: PageContext) -> Surroundings:
    nav = _navigation(pages, one_context) if one_context.audience != "player" else []
    methods = next((page.path for page in pages if page.path == "methods.html"), "")
    edition = one_context.words(f"frame.edition.{one_context.audience}")
    return Surroundings(nav, shared_names(one_context), methods, edition, _turned_over(marts, one_context))


def _lay_shared(site: shelf.Shelf, room: _Room, pages: Sequence[Page]) -> None:
    groups = group_choice(room.marts, room.context)
    for page in pages:
        text = framed(page, room.context, room.around, day=room.context.as_of, groups=groups if page.nav else "")
        site.put(f"{room.folder}/{page.path}", text.encode())


def _lay_players(site: shelf.Shelf, rooms: Sequence[_Room], processes: Processes | None, cache: MartCache, ground: str) -> None:
    """The pages about players: of each the pieces of which rows changed, the others as they stand in the old pages."""
    grounds: dict[tuple[int, str], str] = {}
    asked_for = []
    for place, room in enumerate(rooms):
        for player_id in sorted(room.marts.rows("mart_player")["player_id"]):
            grounds[place, player_id] = _ground(room, ground, player_id)
            entry = site.old_entry(room.folder, player_id, grounds[place, player_id])
            one = asked(player_id, entry, partial(room.marts.number, player_id), site.old)
            if one is None:
                site.keep(room.folder, player_id)
            else:
                asked_for.append((place, one))
    together = Rooms([room.work for room in rooms], [room.marts for room in rooms], cache)
    for found in pages_of_players(together, wanted(asked_for), processes):
        for (place, player_id), made in found.items():
            told = entry_of(made, partial(rooms[place].marts.number, player_id))
            site.put_player(rooms[place].folder, player_id, grounds[place, player_id], made.pages, told)


def _ground(room: _Room, ground: str, player_id: str) -> str:
    """Digest of all that the pages about a player rest on beside the player's rows."""
    path, below = room.context.player_path(player_id), room.work.below(player_id)
    beside = neighbours(path, room.around.players)
    return hashlib.sha256(f"{ground}|{replace(room.around, players=())}|{beside}|{below}".encode()).hexdigest()


def _lay_assets(site: shelf.Shelf, room: _Room) -> None:
    for name, make in shared_files(room.context).items():
        site.put_named(f"{room.folder}/assets/{name}", make)


def _gone_page(room: _Room, path: str) -> Page:
    words = room.context.words
    start = link(room.context.href(path, "index.html"), words("gone.start"))
    return Page(path, words("gone.title"), paragraph(start), lead=words("gone.lead"))


def _lay_gone(site: shelf.Shelf, room: _Room) -> None:
    for path in site.no_longer_made(room.folder):
        page = _gone_page(room, path.removeprefix(f"{room.folder}/"))
        site.put_gone(path, framed(page, room.context, room.around))


def _open_room(site: shelf.Shelf, marts: Marts, one_context: PageContext, key: bytes, folder: str = "") -> _Room:
    """A room with all but the pages about players."""
    pages = _shared_pages(marts, one_context)
    around = _surroundings(pages, marts, one_context)
    academy, audience, as_of = one_context.academy, one_context.audience, one_context.as_of
    room = _Room(one_context, marts, Work(academy, audience, as_of, one_context.sources, around, key, folder))
    _lay_assets(site, room)
    _lay_shared(site, room, pages)
    return room


def _write_links(cache: MartCache, site_dir: Path, key: bytes) -> None:
    """Which folder is whose, for the person who hands the links out; beside the site, in none of its folders."""
    players = Marts(cache.con, "coach", cache).rows("mart_player").sort("player_id")
    pages = [f"{site_dir.name}/players/{player_token(player_id, key)}/index.html" for player_id in players["player_id"]]
    text = players.select("player_id", "alias").with_columns(pl.Series("page", pages, dtype=pl.String)).pipe(csv_of)
    target = site_dir.with_name("player-links.csv")
    if not target.exists() or target.read_text(encoding="utf-8") != text:
        target.write_text(text, encoding="utf-8")


def build_site(
    con: Connection,
    academy: Academy,
    site_dir: Path,
    *,
    as_of: date,
    sources: Sequence[Source],
    site_key: bytes,
    last_files_on: date | None = None,
    printed: Sequence[Printed] = (),
    limited: Sequence[Sequence[str]] = (),
    processes: Processes | None = None,
) -> SiteOutcome:
    """Build the sites of coach, physio and players into ``site_dir``, and put them in place in one step.

    Parameters
    ----------
    con : Connection
        The warehouse, measured.
    academy : Academy
    site_dir : Path
        The workspace's ``site`` folder; it need not exist.
    as_of : date
        Last day that the measures considered; printed on pages about the squad.
    sources : sequence of Source
        The bibliography that the methods page prints.
    last_files_on : date, optional
        Local day on which files last came, said on the first page.
    printed : sequence of Printed
        Published values beside computed ones, for the methods page.
    limited : sequence
        Groups that coaches are limited to: for each set a room of its own, with its members and nobody else.
    processes : callable, optional
        Asked for processes where there is much to make; without it this one makes all pages.
    site_key : bytes
        Secret of the workspace from which the players' folder names are made; see :func:`reports.tokens.player_token`.

    Raises
    ------
    RenderError
        When a page cannot be made or the folder cannot be written.
    """
    sources_text = "|".join(f"{source.key}{source.title}{source.known}" for source in sources)
    ground = hashlib.sha256(f"{program_stamp()}|{academy!r}|{sources_text}".encode()).hexdigest()
    cache = MartCache(con)
    affinity = pl.Config(engine_affinity="in-memory")  # thousands of small frames
    with shelf.new_site(site_dir) as site, affinity:
        rooms = []
        for audience in FOLDER:
            plain = page_context(academy, audience, as_of, sources)
            one_context = replace(plain, last_files_on=last_files_on, printed=printed)
            rooms.append(_open_room(site, Marts(con, audience, cache), one_context, site_key))
        coach = replace(page_context(academy, "coach", as_of, sources), last_files_on=last_files_on, printed=printed)
        for groups in limited:
            members = Marts(con, "coach", cache, members_of(Marts(con, "coach", cache), groups))
            rooms.append(_open_room(site, members, coach, site_key, group_folder(groups)))
        _lay_players(site, [room for room in rooms if room.context.audience != "data"], processes, cache, ground)
        for room in rooms:
            _lay_gone(site, room)
    _write_links(cache, site_dir, site_key)
    cache.clear()
    n_links_new = site.n_moved(FOLDER["player"])
    return SiteOutcome(site.n_written, site.n_unchanged, str(site_dir / "coach" / "index.html"), n_links_new)
