"""The pages about players, made by as many processes as the machine has cores when there are many of them."""

from __future__ import annotations

import hashlib
import os
from collections import deque
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TYPE_CHECKING

import polars as pl

from reports.pages import page_modules
from reports.pages.context import PageContext, Source, page_context
from reports.pages.frame import Page, Surroundings, framed
from reports.tokens import player_token
from warehouse.marts import players_apart

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from schemas.academy import Academy
    from warehouse.marts import Audience, Marts, PlayerMarts

_GROUPS = "groups"

FOLDER: dict[Audience, str] = {"coach": "coach", "physio": "physio", "data": "data", "player": "players"}
"""Each audience's folder below the site; whoever looks after the data has no pages about single players."""
CHUNK, JOB = 20, 5
"""Players whose rows are read at a time, and the fewest whose pages are one job."""

WORTH_A_PROCESS, MANY = 12, 60
"""From how many players on it pays to start processes: they take about two seconds, in which this one makes pages too. With many
players there is a process for each core, and this one only reads rows for them."""


def group_folder(groups: Sequence[str]) -> str:
    """Folder below the site of the coach's pages about the members of these groups, and nobody else."""
    told = "\x1f".join(sorted(set(groups)))
    return f"{_GROUPS}/{hashlib.sha256(told.encode()).hexdigest()[:26]}"


Made = dict[str, dict[str, str]]
"""Player id to path to text."""


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


def _pages(player: PlayerMarts, one_context: PageContext) -> Iterator[Page]:
    for module in page_modules():
        if hasattr(module, "player_pages"):
            yield from module.player_pages(player, one_context)


def made(work: Work, rows: dict[str, pl.DataFrame], player_ids: list[str]) -> Made:
    """The framed pages of these players from their rows by mart."""
    one_context = page_context(work.academy, work.audience, work.as_of, work.sources)
    with pl.Config(engine_affinity="in-memory"):  # thousands of small frames
        return {
            player_id: {
                f"{work.folder}/{work.below(player_id)}{page.path}": framed(
                    page, one_context, work.around, below=work.below(player_id)
                )
                for page in _pages(player, one_context)
            }
            for player_id, player in players_apart(rows, player_ids, work.audience).items()
        }


def _chunks(marts: Marts, player_ids: list[str]) -> Iterator[tuple[dict[str, pl.DataFrame], list[str]]]:
    for start in range(0, len(player_ids), CHUNK):
        chunk = player_ids[start : start + CHUNK]
        yield marts.rows_of(chunk), chunk


@dataclass(frozen=True)
class _Job:
    """Pages of a few players, waiting for a process or for this one."""

    work: Work
    rows: dict[str, pl.DataFrame]
    player_ids: list[str]

    def done(self) -> Made:
        return made(self.work, self.rows, self.player_ids)


def _jobs(work: Work, marts: Marts, player_ids: list[str]) -> Iterator[_Job]:
    """Jobs small enough to share a short list evenly; rows are read for many players at once."""
    size = min(CHUNK, max(JOB, len(player_ids) // (4 * _cores())))
    for rows, chunk in _chunks(marts, player_ids):
        for start in range(0, len(chunk), size):
            some = chunk[start : start + size]
            yield _Job(work, {name: frame.filter(pl.col("player_id").is_in(some)) for name, frame in rows.items()}, some)


def _cores() -> int:
    return os.cpu_count() or 1


def _next(waiting: deque[tuple[Future[Made], _Job]], *, help_out: bool) -> Made:
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

    def pages(self, work: Work, marts: Marts, player_ids: list[str]) -> Iterator[Made]:
        """The pages of these players, some players at a time."""
        n_players = len(player_ids)
        if n_players < WORTH_A_PROCESS or _cores() < 2:
            for rows, chunk in _chunks(marts, player_ids):
                yield made(work, rows, chunk)
            return
        waiting: deque[tuple[Future[Made], _Job]] = deque()
        for job in _jobs(work, marts, player_ids):
            waiting.append((self._processes(n_players).submit(_Job.done, job), job))
            if len(waiting) > 2 * _cores():
                yield _next(waiting, help_out=n_players < MANY)
        while waiting:
            yield _next(waiting, help_out=n_players < MANY)
