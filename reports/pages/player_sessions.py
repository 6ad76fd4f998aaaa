"""The coach's section on what happens within a session."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.findings.sessions import practice_sentence, tiring_sentence, warming_sentence
from reports.pages.frame import Part
from reports.pages.parts import bullets, section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 36, after what becomes of speed; nothing for a player with too few sessions."""
    if context.audience != "coach":
        return
    rows = player.listed("mart_within_session")
    if not rows:
        return
    practice = practice_sentence(rows[0], context.numbers)
    answer = warming_sentence(rows[0], context.numbers)
    more = bullets([text for text in (tiring_sentence(rows[0], context.numbers), practice) if text])
    yield Part(36, section(context.words("within.question"), answer, more, anchor="within"))
