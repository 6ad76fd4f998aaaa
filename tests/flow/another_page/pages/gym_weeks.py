"""A page that a test adds: who was in the gym."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.findings.gym import gym_sentence

from reports.pages.frame import Page
from reports.pages.parts import bullets, section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import Marts


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """For the coach alone."""
    if marts.audience != "coach":
        return
    words = context.words
    said = [gym_sentence(row, words) for row in marts.rows("mart_gym_week").iter_rows(named=True)]
    yield Page("gym.html", words("gym.title"), section(words("gym.question"), "", bullets(said)), nav="gym.title", order=30)
