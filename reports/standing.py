"""What stands of the pages about one player, piece by piece, when only some of the player's rows have changed.

A piece is what one module adds: sections of the player's page, or pages of its own. While it is made it is noted which rows it
reads; it stands as long as these are the same. Nobody declares anything: what a piece would read next depends on nothing but
what it has read. The sections are kept nowhere but in the old page itself: the list of pages says where in it they stand.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from reports.pages.frame import Part

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

PAGE = "player.page"
"""Name of the piece that puts sections together to the player's page."""

_BEGINNING = 200
Entry = dict[str, Any]
"""What the list of pages says of one player in one room."""


@dataclass(frozen=True)
class Piece:
    """What one module made about one player.

    Attributes
    ----------
    reads : tuple of str
        Names of the rows that it read, see :meth:`warehouse.marts.Marts.numbers`; sorted.
    parts : tuple of Part
        Sections of the player's page.
    paths : tuple of str
        Pages of its own, from the site's root.
    """

    reads: tuple[str, ...]
    parts: tuple[Part, ...] = ()
    paths: tuple[str, ...] = ()


@dataclass(frozen=True)
class Asked:
    """A player whose pages are asked for.

    Attributes
    ----------
    player_id : str
    standing : mapping of str to Piece
        Pieces that stand, by name.
    marts : frozenset of str or None
        Names of the rows that the others read the last time; None: nothing is known of that.
    """

    player_id: str
    standing: Mapping[str, Piece] = field(default_factory=dict)
    marts: frozenset[str] | None = None


@dataclass(frozen=True)
class Made:
    """The pages about one player.

    Attributes
    ----------
    pages : dict of str to str
        Text by path, of what was made.
    page : str
        Path of the player's own page, or the page about the player.
    pieces : dict of str to Piece
        All pieces by name, those that stood included.
    """

    pages: dict[str, str]
    page: str
    pieces: dict[str, Piece]


def asked(player_id: str, entry: Entry | None, numbers: Mapping[str, str], old_text: Callable[[str], str]) -> Asked | None:
    """What must be made about a player; None where everything stands.

    Parameters
    ----------
    player_id : str
    entry : dict or None
        From :func:`entry_of`, of the old site; None where nothing of it may stand.
    numbers : mapping of str to str
        Of the player's rows now, see :meth:`warehouse.marts.Marts.numbers`.
    old_text : callable
        A page of the old site, by its path.
    """
    if entry is None or "pieces" not in entry:
        return Asked(player_id)
    known = entry["rows"]
    changed = {name for piece in entry["pieces"].values() for name in piece["reads"] if known.get(name) != numbers.get(name)}
    fresh = {name: piece for name, piece in entry["pieces"].items() if changed.isdisjoint(piece["reads"])}
    if len(fresh) == len(entry["pieces"]):
        return None
    stale = {read for name, piece in entry["pieces"].items() if name not in fresh or name == PAGE for read in piece["reads"]}
    text = old_text(entry["page"])
    standing = {name: _piece(piece, text) for name, piece in fresh.items() if name != PAGE}
    return Asked(player_id, standing, frozenset(stale))


def _piece(piece: Entry, old_text: str) -> Piece:
    parts = (
        Part(order, Markup(old_text[start:end]), body_shown=body_shown, label=label)  # noqa: S704 - our own page
        for order, body_shown, label, start, end in piece["parts"]
    )
    return Piece(tuple(piece["reads"]), tuple(parts), tuple(piece["paths"]))


def entry_of(made: Made, numbers: Mapping[str, str]) -> Entry:
    """What the list of pages says of a player: which rows each piece rests on, and where in the page its sections stand."""
    reads = sorted({read for piece in made.pieces.values() for read in piece.reads})
    text = made.pages[made.page]
    return {
        "page": made.page,
        "rows": {read: numbers.get(read) for read in reads},
        "pieces": {
            name: {"reads": list(piece.reads), "parts": _places(piece.parts, text), "paths": list(piece.paths)}
            for name, piece in made.pieces.items()
        },
    }


def _places(parts: Iterable[Part], text: str) -> list[list[Any]]:
    found = []
    for part in parts:
        start = _place(part.markup, text)
        found.append([part.order, part.body_shown, part.label, start, start + len(part.markup)])
    return found


def _place(markup: str, text: str) -> int:
    """Where a section begins in its page: its first words are looked for, and the rest is held against what stands there."""
    start = text.index(markup[:_BEGINNING])
    while not text.startswith(markup, start):
        start = text.index(markup[:_BEGINNING], start + 1)
    return start
