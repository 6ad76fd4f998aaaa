"""The pages about players, made by as many processes as the machine has cores when there are many of them."""

from __future__ import annotations

import hashlib
import os
from collections import deque
from collections.abc import Callable
from concurrent.futures import Executor, Future
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import polars as pl

from reports.pages import page_modules
from reports.pages.context import PageContext, Source, page_context
from reports.pages.frame import Page, Surroundings, framed
from reports.pages.player import player_page
from reports.standing import PAGE, Asked, Made, exchanged, parts_that_stand, places, told
from reports.tokens import player_token
from warehouse.marts import NotReadError, narrowed_names, players_apart

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import date
    from types import ModuleType

    from reports.pages.frame import Part
    from reports.standing import Entry
    from schemas.academy import Academy
    from warehouse.marts import Audience, MartCache, Marts, PlayerMarts

_GROUPS = "groups"
_SECTIONS = ".sections"

FOLDER: dict[Audience, str] = {"coach": "coach", "physio": "physio", "data": "data", "player": "players"}
"""Each audience's folder below the site; whoever looks after the data has no pages about single players."""
CHUNK, MOST_CHUNK = 50, 200
"""Players whose rows are read at a time, all of them or only some."""

JOB, MOST_JOB = 5, 10
"""The fewest players whose pages are one job, and the most: rows and pages of five jobs are held at once."""

FEW_MARTS = 24
"""Of so few kinds of rows those of more players are read at a time; to ask for more costs less than to ask again."""

PIECE = 0.1
"""What a piece of the pages about a player for one reader costs of all of them; to read rows and to put it in costs as much."""

WORTH_A_PROCESS = 500
"""From how many readers' pages about players on processes make them, one for each core, and this one only reads rows for them. To
hand rows over takes the processor a fifth to a third more, which all cores share."""


def group_folder(groups: Sequence[str]) -> str:
    """Folder below the site of the coach's pages about the members of these groups, and nobody else."""
    told = "\x1f".join(sorted(set(groups)))
    return f"{_GROUPS}/{hashlib.sha256(told.encode()).hexdigest()[:26]}"


Found = dict[tuple[int, str], Made]
"""Place of the room and player id to what was made about the player there."""


@dataclass(frozen=True)
class Work:
    """All that pages about players depend on, beside the players' rows.

    Attributes
    ----------
    academy : Academy
    audience : {"coach", "physio", "data", "player"}
    as_of : date
    sources : sequence of Source
    around : Surroundings
    key : bytes
        Secret from which the players' folder names are made.
    room : str
        Folder below the site; empty: the audience's.
    """

    academy: Academy
    audience: Audience
    as_of: date
    sources: Sequence[Source]
    around: Surroundings
    key: bytes
    room: str = ""

    @property
    def folder(self) -> str:
        """The folder below the site that these pages lie in."""
        return self.room or FOLDER[self.audience]

    def below(self, player_id: str) -> str:
        """Folder between the audience's root and a player's pages: the players are kept apart from each other."""
        return f"{player_token(player_id, self.key)}/" if self.audience == "player" else ""


@dataclass(frozen=True)
class Rooms:
    """The rooms of one build, and where their rows come from.

    Attributes
    ----------
    works : sequence of Work
    marts : sequence of Marts
        Of each room.
    cache : MartCache
    """

    works: Sequence[Work]
    marts: Sequence[Marts]
    cache: MartCache


@dataclass(frozen=True)
class Wanted:
    """What is to be made about one player.

    Attributes
    ----------
    player_id : str
    asked : mapping of int to Asked
        By the place of the room.
    """

    player_id: str
    asked: Mapping[int, Asked]

    @property
    def marts(self) -> frozenset[str] | None:
        """What these pages read the last time; None: of some nothing is known."""
        told = [one.marts for one in self.asked.values()]
        return None if None in told else frozenset().union(*(marts or () for marts in told))


@dataclass(frozen=True)
class Beside:
    """What was not read of some players: ``withheld`` and ``narrowed`` of :class:`warehouse.marts.PlayerMarts`."""

    withheld: frozenset[str] = frozenset()
    narrowed: frozenset[str] = frozenset()


def wanted(asked: Iterable[tuple[int, Asked]]) -> list[Wanted]:
    """What is asked in each room, player by player."""
    by_player: dict[str, dict[int, Asked]] = {}
    for place, one in asked:
        by_player.setdefault(one.player_id, {})[place] = one
    return [Wanted(player_id, rooms) for player_id, rooms in sorted(by_player.items())]


def _placed(work: Work, player_id: str, pages: Iterable[Page], one_context: PageContext) -> dict[str, bytes]:
    """Framed pages by their paths from the site's root."""
    below = work.below(player_id)
    return {f"{work.folder}/{below}{page.path}": framed(page, one_context, work.around, below=below).encode() for page in pages}


@cache
def _makers() -> dict[str, ModuleType]:
    """Modules by the names of the pieces that they make, without the page that sections make together, in the order of making."""
    found = {}
    for module in page_modules():
        area = module.__name__.rpartition(".")[2]
        if hasattr(module, "player_sections"):
            found[f"{area}{_SECTIONS}"] = module
        if hasattr(module, "player_pages") and not hasattr(module, "player_page"):
            found[f"{area}.pages"] = module
    return found


def _made(work: Work, player: PlayerMarts, one: Asked, one_context: PageContext) -> Made:
    """The pages about one player: pieces that do not stand, and the page that sections make together."""
    pages: dict[str, bytes] = {}
    parts: dict[str, list[Part]] = {}
    pieces: dict[str, Entry] = {}
    for name, module in _makers().items():
        if not one.is_stale(name):
            continue
        own: dict[str, bytes] = {}
        with player.reading() as read:
            if name.endswith(_SECTIONS):
                parts[name] = list(module.player_sections(player, one_context))
            else:
                own = _placed(work, player.player_id, module.player_pages(player, one_context), one_context)
        pages |= own
        pieces[name] = told(read, own)
    path, content, all_pieces = _page(work, player, one, one_context, parts, pieces)
    return Made(pages | {path: content}, path, all_pieces)


def _page(
    work: Work,
    player: PlayerMarts,
    one: Asked,
    one_context: PageContext,
    parts: dict[str, list[Part]],
    pieces: dict[str, Entry],
) -> tuple[str, bytes, dict[str, Entry]]:
    """The player's page with its path and all pieces: the old one with these sections put in, where that is what it would be."""
    standing: dict[str, Entry] = {}
    if one.known:
        old = one.known.page.read_bytes()
        if found := exchanged(one.known, parts, old):
            content, standing = found
            return one.known.entry["page"], content, standing | {name: standing[name] | piece for name, piece in pieces.items()}
        standing, stand = one.known.entry["pieces"], parts_that_stand(one.known, old)
        parts = {name: parts.get(name) or stand.get(name, []) for name in _makers()}
    with player.reading() as read:
        page = player_page(player, one_context, [part for own in parts.values() for part in own])
    ((path, content),) = _placed(work, player.player_id, [page], one_context).items()
    place = places(parts, content)
    return (
        path,
        content,
        {name: piece | {"parts": place.get(name, [])} for name, piece in (standing | pieces | {PAGE: told(read)}).items()},
    )


def made(works: Sequence[Work], rows: dict[str, pl.DataFrame], players: Sequence[Wanted], beside: Beside | None = None) -> Found:
    """The framed pages of these players from their rows by mart; without those that turn out to need rows that were not read.

    All readers' pages of a player are made one after the other, so that what they share is made once.
    """
    contexts = [page_context(work.academy, work.audience, work.as_of, work.sources) for work in works]
    found: Found = {}
    not_read = beside or Beside()
    apart = players_apart(rows, [one.player_id for one in players], "player", not_read.withheld, not_read.narrowed)
    with pl.Config(engine_affinity="in-memory"):  # thousands of small frames
        for one in players:
            own = apart.pop(one.player_id)  # what was made of its rows goes with it
            for place, asked in one.asked.items():
                player = own.read_by(works[place].audience)
                with suppress(NotReadError):
                    found[place, one.player_id] = _made(works[place], player, asked, contexts[place])
    return found


def _chunks(rooms: Rooms, players: Sequence[Wanted]) -> Iterator[tuple[dict[str, pl.DataFrame], list[Wanted], Beside]]:
    """Some players at a time, with the rows that they need: those who need the same few together, and those who need many."""
    alike: dict[tuple[bool, tuple[str, ...]], list[Wanted]] = {}
    for one in players:
        few = one.marts is not None and len(one.marts) <= FEW_MARTS
        alike.setdefault((one.marts is None, tuple(sorted(one.marts or ())) if few else ()), []).append(one)
    for (is_all, few_marts), some in sorted(alike.items()):
        size = MOST_CHUNK if few_marts else CHUNK
        for start in range(0, len(some), size):
            chunk = some[start : start + size]
            asked_for = None if is_all else frozenset().union(*(one.marts or () for one in chunk))
            readers = [rooms.marts[place] for place in sorted({place for one in chunk for place in one.asked})]
            names = narrowed_names(frozenset().union(*(reader.names_of_players(asked_for) for reader in readers)))
            rows = rooms.cache.rows_of(sorted(names), [one.player_id for one in chunk])
            withheld = frozenset().union(*(reader.names_of_players() for reader in readers)) - rows.keys()
            yield rows, chunk, Beside(withheld, frozenset(name for name in names if "|" in name))


@dataclass(frozen=True)
class _Job:
    """Pages of a few players, waiting for a process."""

    works: Sequence[Work]
    rows: dict[str, pl.DataFrame]
    players: list[Wanted]
    beside: Beside

    def done(self) -> Found:
        return made(self.works, self.rows, self.players, self.beside)


def _jobs(rooms: Rooms, players: Sequence[Wanted]) -> Iterator[_Job]:
    """Jobs small enough to share a short list evenly; rows are read for many players at once."""
    size = min(MOST_JOB, max(JOB, len(players) // (4 * _cores())))
    for rows, chunk, beside in _chunks(rooms, players):
        for start in range(0, len(chunk), size):
            some = chunk[start : start + size]
            ids = [one.player_id for one in some]
            own = {name: frame.filter(pl.col("player_id").is_in(ids)) for name, frame in rows.items()}
            yield _Job(rooms.works, own, some, beside)


def _cores() -> int:
    return os.cpu_count() or 1


Processes = Callable[[], Executor]
"""Asked for when there is work for processes; whoever owns them ends them."""


def pages_of_players(rooms: Rooms, players: Sequence[Wanted], processes: Processes | None = None) -> Iterator[Found]:
    """The pages of these players, some players at a time; by other processes where they are lent and there is much to make."""
    missed = {(place, one.player_id) for one in players for place in one.asked}
    for found in _some(rooms, players, processes):
        missed -= found.keys()
        yield found
    if missed:
        yield from _some(rooms, wanted((place, Asked(player_id)) for place, player_id in sorted(missed)), processes)


def n_whole_pages(players: Sequence[Wanted]) -> float:
    """How many readers' whole pages cost as much as what is to be made."""
    stale = (None if asked.known is None else len(asked.known.stale) for one in players for asked in one.asked.values())
    return sum(1.0 if n is None else min(1.0, PIECE * (n + 1)) for n in stale)


def _some(rooms: Rooms, players: Sequence[Wanted], processes: Processes | None) -> Iterator[Found]:
    if processes is None or n_whole_pages(players) < WORTH_A_PROCESS or _cores() < 2:
        for rows, chunk, beside in _chunks(rooms, players):
            yield made(rooms.works, rows, chunk, beside)
        return
    waiting: deque[Future[Found]] = deque()
    for job in _jobs(rooms, players):
        waiting.append(processes().submit(_Job.done, job))
        if len(waiting) > 2 * _cores():
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()
