"""The pages about players, made by as many processes as the machine has cores when there are many of them."""

from __future__ import annotations

import hashlib
import os
from collections import deque
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TYPE_CHECKING

import polars as pl

from reports.pages import page_modules
from reports.pages.context import PageContext, Source, page_context
from reports.pages.frame import Page, Surroundings, framed
from reports.pages.player import player_page
from reports.standing import PAGE, Asked, Made, Piece
from reports.tokens import player_token
from warehouse.marts import NotReadError, players_apart

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date
    from types import ModuleType

    from schemas.academy import Academy
    from warehouse.marts import Audience, Marts, PlayerMarts

_GROUPS = "groups"

FOLDER: dict[Audience, str] = {"coach": "coach", "physio": "physio", "data": "data", "player": "players"}
"""Each audience's folder below the site; whoever looks after the data has no pages about single players."""
CHUNK, JOB = 20, 5
"""Players whose rows are read at a time, and the fewest whose pages are one job."""

LITTLE = 0.2
"""What the pages of a player cost of whom most stands."""

WORTH_A_PROCESS, MANY = 12, 60
"""From how many players on it pays to start processes: they take about two seconds, in which this one makes pages too. With many
players there is a process for each core, and this one only reads rows for them."""


def group_folder(groups: Sequence[str]) -> str:
    """Folder below the site of the coach's pages about the members of these groups, and nobody else."""
    told = "\x1f".join(sorted(set(groups)))
    return f"{_GROUPS}/{hashlib.sha256(told.encode()).hexdigest()[:26]}"


Found = dict[str, Made]
"""Player id to what was made about the player."""


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


def _placed(work: Work, player_id: str, pages: Iterable[Page], one_context: PageContext) -> dict[str, str]:
    """Framed pages by their paths from the site's root."""
    below = work.below(player_id)
    return {f"{work.folder}/{below}{page.path}": framed(page, one_context, work.around, below=below) for page in pages}


def _made(work: Work, player: PlayerMarts, one: Asked, one_context: PageContext) -> Made:
    """The pages about one player: pieces that do not stand, and the page that sections make together."""
    pages: dict[str, str] = {}
    pieces: dict[str, Piece] = {}
    for module in page_modules():
        area = module.__name__.rpartition(".")[2]
        if hasattr(module, "player_sections"):
            name = f"{area}.sections"
            pieces[name] = one.standing.get(name) or _sections(module, player, one_context)
        if hasattr(module, "player_pages") and not hasattr(module, "player_page"):
            name = f"{area}.pages"
            if name not in one.standing:
                with player.reading() as read:
                    own = _placed(work, player.player_id, module.player_pages(player, one_context), one_context)
                pages |= own
                pieces[name] = Piece(tuple(sorted(read)), paths=tuple(sorted(own)))
            else:
                pieces[name] = one.standing[name]
    with player.reading() as read:
        page = player_page(player, one_context, [part for piece in pieces.values() for part in piece.parts])
    pieces[PAGE] = Piece(tuple(sorted(read)))
    ((path, text),) = _placed(work, player.player_id, [page], one_context).items()
    return Made(pages | {path: text}, path, pieces)


def _sections(module: ModuleType, player: PlayerMarts, one_context: PageContext) -> Piece:
    with player.reading() as read:
        parts = tuple(module.player_sections(player, one_context))
    return Piece(tuple(sorted(read)), parts)


def made(work: Work, rows: dict[str, pl.DataFrame], players: list[Asked], withheld: frozenset[str] = frozenset()) -> Found:
    """The framed pages of these players from their rows by mart; without those who turn out to need rows that were not read."""
    one_context = page_context(work.academy, work.audience, work.as_of, work.sources)
    found: Found = {}
    apart = players_apart(rows, [one.player_id for one in players], work.audience, withheld)
    with pl.Config(engine_affinity="in-memory"):  # thousands of small frames
        for one in players:
            with suppress(NotReadError):
                found[one.player_id] = _made(work, apart[one.player_id], one, one_context)
    return found


def _chunks(marts: Marts, players: list[Asked]) -> Iterator[tuple[dict[str, pl.DataFrame], list[Asked], frozenset[str]]]:
    """Some players at a time, with the rows that they need; those of whom little changed apart from the others."""
    known, unknown = [one for one in players if one.marts is not None], [one for one in players if one.marts is None]
    known.sort(key=lambda one: len(one.standing))
    for some in (known, unknown):
        for start in range(0, len(some), CHUNK):
            chunk = some[start : start + CHUNK]
            only = None if some is unknown else frozenset().union(*(one.marts or () for one in chunk))
            yield marts.rows_of([one.player_id for one in chunk], only), chunk, marts.not_read(only)


@dataclass(frozen=True)
class _Job:
    """Pages of a few players, waiting for a process or for this one."""

    work: Work
    rows: dict[str, pl.DataFrame]
    players: list[Asked]
    withheld: frozenset[str]

    def done(self) -> Found:
        return made(self.work, self.rows, self.players, self.withheld)


def _jobs(work: Work, marts: Marts, players: list[Asked]) -> Iterator[_Job]:
    """Jobs small enough to share a short list evenly; rows are read for many players at once."""
    size = min(CHUNK, max(JOB, len(players) // (4 * _cores())))
    for rows, chunk, withheld in _chunks(marts, players):
        for start in range(0, len(chunk), size):
            some = chunk[start : start + size]
            ids = [one.player_id for one in some]
            own = {name: frame.filter(pl.col("player_id").is_in(ids)) for name, frame in rows.items()}
            yield _Job(work, own, some, withheld)


def _cores() -> int:
    return os.cpu_count() or 1


def _next(waiting: deque[tuple[Future[Found], _Job]], *, help_out: bool) -> Found:
    """The newest job done here when this process helps and no other has begun it, else the oldest when its process is through."""
    future, job = waiting[-1]
    if help_out and future.cancel():
        waiting.pop()
        return job.done()
    return waiting.popleft()[0].result()


@dataclass
class Workshop:
    """Makes pages in this process, and in others beside it when there are many; they are started once for all audiences."""

    _pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Workshop:
        return self

    def __exit__(self, *_: object) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def _processes(self, n_players: int) -> ProcessPoolExecutor:
        if self._pool is None:
            n_processes = _cores() if n_players >= MANY else _cores() - 1
            self._pool = ProcessPoolExecutor(n_processes, mp_context=get_context("spawn"))
        return self._pool

    def pages(self, work: Work, marts: Marts, players: list[Asked]) -> Iterator[Found]:
        """The pages of these players, some players at a time."""
        missed = {one.player_id for one in players}
        for found in self._some(work, marts, players):
            missed -= found.keys()
            yield found
        if missed:
            yield from self._some(work, marts, [Asked(player_id) for player_id in sorted(missed)])

    def _some(self, work: Work, marts: Marts, players: list[Asked]) -> Iterator[Found]:
        n_players = round(sum(LITTLE if one.standing else 1.0 for one in players))
        if n_players < WORTH_A_PROCESS or _cores() < 2:
            for rows, chunk, withheld in _chunks(marts, players):
                yield made(work, rows, chunk, withheld)
            return
        waiting: deque[tuple[Future[Found], _Job]] = deque()
        for job in _jobs(work, marts, players):
            waiting.append((self._processes(n_players).submit(_Job.done, job), job))
            if len(waiting) > 2 * _cores():
                yield _next(waiting, help_out=n_players < MANY)
        while waiting:
            yield _next(waiting, help_out=n_players < MANY)
