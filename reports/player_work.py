"""The pages about players, made by as many processes as the machine has cores when there are many of them."""

from __future__ import annotations

import os
from collections import deque
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TYPE_CHECKING

import polars as pl

from reports.pages import page_modules
from reports.pages.desk import Desk, Source, desk
from reports.pages.frame import Page, Surroundings, framed
from reports.tokens import player_token
from warehouse.marts import players_apart

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from schemas.academy import Academy
    from warehouse.marts import Audience, Marts, PlayerMarts

FOLDER: dict[Audience, str] = {"coach": "coach", "physio": "physio", "player": "players"}
CHUNK = 20
WORTH_A_PROCESS = 60
"""Players whose pages are made at a time; and from how many on it pays to start processes, which costs about two seconds."""

Made = dict[str, dict[str, str]]
"""Player id to path to text."""


@dataclass(frozen=True)
class Work:
    """All that pages about players depend on, beside the players' rows.

    Attributes
    ----------
    academy : Academy
    audience : {"coach", "physio", "player"}
    as_of : date
    sources : sequence of Source
    around : Surroundings
    key : bytes
        Secret from which the players' folder names are made.
    """

    academy: Academy
    audience: Audience
    as_of: date
    sources: Sequence[Source]
    around: Surroundings
    key: bytes

    def below(self, player_id: str) -> str:
        """Folder between the audience's root and a player's pages: the players are kept apart from each other."""
        return f"{player_token(player_id, self.key)}/" if self.audience == "player" else ""


def _pages(player: PlayerMarts, one_desk: Desk) -> Iterator[Page]:
    for module in page_modules():
        if hasattr(module, "player_pages"):
            yield from module.player_pages(player, one_desk)


def made(work: Work, rows: dict[str, pl.DataFrame], player_ids: list[str]) -> Made:
    """The framed pages of these players from their rows by mart."""
    one_desk = desk(work.academy, work.audience, work.as_of, work.sources)
    with pl.Config(engine_affinity="in-memory"):  # thousands of small frames
        return {
            player_id: {
                f"{FOLDER[work.audience]}/{work.below(player_id)}{page.path}": framed(
                    page, one_desk, work.around, below=work.below(player_id)
                )
                for page in _pages(player, one_desk)
            }
            for player_id, player in players_apart(rows, player_ids, work.audience).items()
        }


def _chunks(marts: Marts, player_ids: list[str]) -> Iterator[tuple[dict[str, pl.DataFrame], list[str]]]:
    for start in range(0, len(player_ids), CHUNK):
        chunk = player_ids[start : start + CHUNK]
        yield marts.rows_of(chunk), chunk


@dataclass
class Workshop:
    """Makes pages in this process, or in others when there are many; others are started once for all audiences."""

    _pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Workshop:
        return self

    def __exit__(self, *_: object) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def pages(self, work: Work, marts: Marts, player_ids: list[str]) -> Iterator[Made]:
        """The pages of these players, some players at a time."""
        if len(player_ids) < WORTH_A_PROCESS or (os.cpu_count() or 1) < 2:
            for rows, chunk in _chunks(marts, player_ids):
                yield made(work, rows, chunk)
            return
        if self._pool is None:
            self._pool = ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn"))
        waiting: deque[Future[Made]] = deque()
        for rows, chunk in _chunks(marts, player_ids):
            waiting.append(self._pool.submit(made, work, rows, chunk))
            if len(waiting) > 2 * (os.cpu_count() or 1):
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
