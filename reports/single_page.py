"""One page in one file, to send: no script, charts as pictures, styles inside."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from reports.pages import page_modules
from reports.pages.context import page_context
from reports.pages.frame import single
from schemas.errors import NotFoundError
from schemas.natural_order import natural_key
from warehouse.marts import Marts, members_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from reports.pages.context import PageContext
    from reports.pages.frame import Page
    from schemas.academy import Academy
    from warehouse.marts import Audience, Connection


def _shared_pages(marts: Marts, one_context: PageContext) -> Iterator[Page]:
    for module in page_modules():
        if hasattr(module, "pages"):
            yield from module.pages(marts, one_context)


def _player_pages(marts: Marts, one_context: PageContext, player_ids: list[str]) -> Iterator[tuple[str, Page]]:
    """Pages about these players, each with the player's id."""
    for player_id, player in marts.by_player(player_ids).items():
        for module in page_modules():
            if hasattr(module, "player_pages"):
                yield from ((player_id, page) for page in module.player_pages(player, one_context))


def _marts(con: Connection, audience: Audience, group: str) -> Marts:
    """The marts of one reader: of one group's members when it is named.

    Raises
    ------
    NotFoundError
        When nobody is in that group.
    """
    if not group:
        return Marts(con, audience)
    everybody = Marts(con, "coach")
    members = members_of(everybody, [group])
    if not members:
        known = sorted(set(everybody.rows("mart_player_group")["group_name"]), key=natural_key)
        todo = f"Groups with members: {', '.join(known)}." if known else "Name groups in the column `groups` of a players file."
        raise NotFoundError(f"Nobody is in the group {group}.", todo)
    return Marts(con, audience, players=members, group=group)


def single_pages(
    con: Connection, academy: Academy, *, audience: Audience, as_of: date, group: str = ""
) -> Iterator[tuple[str, str]]:
    """Path and HTML of every page of one audience, each needing nothing beside it; links between them are left as text.

    Pages of a player's own room lie below the player's id. With ``group``, of its members only.

    Raises
    ------
    NotFoundError
        When nobody is in the group.
    """
    marts, one_context = _marts(con, audience, group), replace(page_context(academy, audience, as_of), with_scripts=False)
    ids = marts.rows("mart_player")["player_id"].to_list()
    if audience != "player":
        for page in _shared_pages(marts, one_context):
            yield page.path, single(page, one_context)
    for player_id, page in _player_pages(marts, one_context, ids):
        folder = f"{player_id}/" if audience == "player" else ""
        yield folder + page.path, single(page, one_context)


def single_page(
    con: Connection, academy: Academy, *, audience: Audience, path: str, as_of: date, player_id: str = "", group: str = ""
) -> str:
    """One page of one audience as HTML that needs nothing beside it.

    Parameters
    ----------
    con : duckdb.DuckDBPyConnection
        The warehouse, measured.
    academy : Academy
    audience : {"coach", "physio", "data", "player"}
        For whom; only marts that this reader may see are read.
    path : str
        The page as the site calls it: ``squad.html``, ``review/p1.html``, and ``index.html`` for the player's own page.
    as_of : date
    player_id : str
        The player, for pages about one player.
    group : str
        Only members of this group stand on the page; empty: everybody.

    Raises
    ------
    NotFoundError
        When there is no such page; the message lists those there are, or says that the player is missing.
    """
    marts, one_context = _marts(con, audience, group), replace(page_context(academy, audience, as_of), with_scripts=False)
    if player_id and player_id not in set(marts.rows("mart_player")["player_id"]):
        raise NotFoundError(f"There is no player {player_id}.", "See the squad page for the players there are.")
    about_them = (page for _, page in _player_pages(marts, one_context, [player_id] if player_id else []))
    others = []
    for page in chain(about_them, _shared_pages(marts, one_context)):
        if page.path == path:
            return single(page, one_context)
        others.append(page.path)
    if not player_id and (audience == "player" or "/" in path):
        named = PurePosixPath(path).stem
        them = set(marts.rows("mart_player")["player_id"])
        example = f"add --player {named}" if named in them else "add --player ID"
        raise NotFoundError(f"{path} is a page about one player, and --player is missing.", f"Say which player: {example}.")
    about_one = "" if player_id else " Pages about one player want --player ID."
    raise NotFoundError(f"There is no page {path} for the {audience}.", f"Use one of: {', '.join(sorted(others))}.{about_one}")
