"""Pages: each module answers one question for one or more readers.

How to add a page
-----------------
Write ``reports/pages/<area>.py`` with one or more of::

    def pages(marts: Marts, context: PageContext) -> Iterator[Page]: ...
    def player_pages(player: PlayerMarts, context: PageContext) -> Iterator[Page]: ...
    def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]: ...

``pages`` makes the pages about many players and runs for each audience (``marts.audience``: ``"coach"``, ``"physio"`` or
``"player"``); yield nothing for an audience that has none. ``player_pages`` makes the pages about one player, also once for each
audience (``context.audience``), and sees that player's rows only. Its pages are made anew only when one of these rows changed,
so it must not print today's date: print the day of the newest row instead.

``player_sections`` adds sections to the *Player* page of coach and physio and to the player's own page; ``context.audience`` says
which (the player's is in plain words). A ``Part(order, markup)`` has its place by ``order``: 10 flags, 20 is the speed real,
30 does it reach the ball, 40 what does it cost, 50 is the body coping, 60 what was tried, 70 what was decided and what is past.

``rows("mart_...")`` gives a mart as a polars frame, sorted by its grain; ``listed("mart_...", column=value)`` of one player the
same rows one by one, which is quicker for the few that a section needs. A mart's contract names its ``readers``;
asking for a mart that is not for this audience raises.

A page is ``Page(path=..., title=..., lead=..., body=...)``:

* ``path``: below the audience's folder, e.g. ``trials.html``, ``trials/T1.html``; ids are file-safe by contract. In the players'
  site ``player_pages`` gives paths below the player's own folder (``index.html``).
* ``lead``: the page's question, answered in its first sentence.
* ``nav``: word key of its entry in the navigation, with ``order``; empty: none.
* ``body``: made of :mod:`reports.pages.parts`: ``section(question, answer, *blocks)``, ``paragraphs``, ``fact_list``, ...;
  ``context.figure(kind, data, ...)`` for charts; :func:`reports.tables.table` for tables.
  Everything that is not ``Markup`` is escaped.
* ``body_shown=True`` where load or body is shown: the standing cautions and the prompt-care list are printed.

Texts come from ``context.words("area.key", ...)``: add them to ``reports/words/en.toml`` and ``de.toml`` under ``[area]``.
Sentences about rows are pure functions in ``reports/findings/<area>.py``: ``(row, words, numbers) -> str``.
Links: ``context.player_path(player_id)`` gives a path from the audience's root; write it as ``context.href(page_path, target)``.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from types import ModuleType

NOT_PAGES: frozenset[str] = frozenset({"context", "figure", "frame", "groups", "parts"})


@cache
def page_modules() -> tuple[ModuleType, ...]:
    """Every module of this package that makes pages, by name."""
    names = sorted(module.name for module in pkgutil.iter_modules(__path__) if module.name not in NOT_PAGES)
    return tuple(importlib.import_module(f"{__name__}.{name}") for name in names)
