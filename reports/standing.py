"""What stands of the pages about one player, piece by piece, when only some of the player's rows have changed.

A piece is what one module adds: sections of the player's page, or pages of its own. While it is made it is noted which rows it
reads; it stands as long as these are the same. Nobody declares anything: what a piece would read next depends on nothing but
what it has read. The sections are kept nowhere but in the old page itself: the list of pages says where in it they stand. Where
nothing but sections have changed, and nothing of which the page around them takes notice, they are put in the old ones' places.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from reports.pages.frame import Part, noticed

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

PAGE = "player.page"
"""Name of the piece that puts sections together to the player's page."""

_BEGINNING = 64
"""So many bytes of a section mostly stand nowhere else in a page."""

Entry = dict[str, Any]
"""What the list of pages says of one player in one room."""

NumberOf = Callable[[str], str | None]
"""What rows of a player are told by."""


@dataclass(frozen=True)
class Known:
    """What is known of pages that stand in part.

    Attributes
    ----------
    entry : dict
        From :func:`entry_of`, of the old site.
    stale : frozenset of str
        Pieces that read rows that have changed.
    page : Path
        The old page.
    """

    entry: Entry
    stale: frozenset[str]
    page: Path


@dataclass(frozen=True)
class Asked:
    """A player whose pages are asked for: all of them, where nothing is known of old ones."""

    player_id: str
    known: Known | None = None

    def is_stale(self, piece: str) -> bool:
        """Whether a piece must be made."""
        return self.known is None or piece in self.known.stale

    @property
    def marts(self) -> frozenset[str] | None:
        """Names of the rows that what must be made read the last time, and the page around it; None: nothing is known of that."""
        if self.known is None:
            return None
        pieces = self.known.entry["pieces"]
        return frozenset(read for name in {*self.known.stale, PAGE} for read in pieces[name]["reads"])


@dataclass(frozen=True)
class Made:
    """The pages about one player.

    Attributes
    ----------
    pages : dict of str to bytes
        Content by path, of what was made.
    page : str
        Path of the player's own page, or the page about the player.
    pieces : dict of str to dict
        All pieces by name, those that stood included, as the list of pages tells them: names of the rows that each read (see
        :meth:`warehouse.marts.Marts.number`), its sections with their places in the page, and pages of its own.
    """

    pages: dict[str, bytes]
    page: str
    pieces: dict[str, Entry]


def asked(player_id: str, entry: Entry | None, number_of: NumberOf, site: Path) -> Asked | None:
    """What must be made about a player; None where everything stands.

    Parameters
    ----------
    player_id : str
    entry : dict or None
        From :func:`entry_of`, of the old site; None where nothing of it may stand.
    number_of : callable
        What the player's rows of a name are told by now, see :meth:`warehouse.marts.Marts.number`.
    site : Path
        The old site.
    """
    if entry is None or "pieces" not in entry:
        return Asked(player_id)
    changed = {name for name, number in entry["rows"].items() if number_of(name) != number}
    if not changed:
        return None
    stale = frozenset(name for name, piece in entry["pieces"].items() if not changed.isdisjoint(piece["reads"]))
    return Asked(player_id, Known(entry, stale, site / entry["page"]))


def entry_of(made: Made, number_of: NumberOf) -> Entry:
    """What the list of pages says of a player: which rows each piece rests on, and where in the page its sections stand."""
    reads = sorted({read for piece in made.pieces.values() for read in piece["reads"]})
    return {"page": made.page, "rows": {read: number_of(read) for read in reads}, "pieces": made.pieces}


def told(reads: Iterable[str], paths: Iterable[str] = ()) -> Entry:
    """What the list of pages says of a piece, beside the places of its sections."""
    return {"reads": sorted(reads), "paths": sorted(paths)}


def parts_that_stand(known: Known, content: bytes) -> dict[str, list[Part]]:
    """Sections that are in the old page as they would be made again, by piece."""
    return {
        name: [
            Part(order, Markup(content[start:end].decode()), body_shown=body_shown, label=label)  # noqa: S704 - our own page
            for order, body_shown, label, start, end in piece["parts"]
        ]
        for name, piece in known.entry["pieces"].items()
        if name not in known.stale
    }


def places(parts: Mapping[str, Sequence[Part]], page: bytes) -> dict[str, list[list[Any]]]:
    """Where the sections of each piece stand in a page that was put together of them: they stand there in their order."""
    found: dict[str, list[list[Any]]] = {name: [] for name in parts}
    after = 0
    for name, part in sorted(((name, part) for name, own in parts.items() for part in own), key=lambda one: one[1].order):
        content = part.markup.encode()
        start = _place(content, page, after)
        after = start + len(content)
        found[name].append([part.order, part.body_shown, part.label, start, after])
    return found


def _place(content: bytes, page: bytes, after: int) -> int:
    """Where it stands in a page from there on, else from the page's beginning on.

    It mostly stands behind the nearest place that begins alike: to look for all of a long section takes some times as long.
    """
    start = page.find(content[:_BEGINNING], after)
    if start >= 0 and not page.startswith(content, start):
        start = page.find(content, after)
    return page.index(content) if start < 0 else start


def exchanged(known: Known, parts: Mapping[str, Sequence[Part]], content: bytes) -> tuple[bytes, dict[str, Entry]] | None:
    """The old page with sections in the places of the old ones, and all pieces with their places in it.

    Parameters
    ----------
    known : Known
    parts : mapping of str to sequence of Part
        Sections of the pieces that were made, in place of those of the same pieces.
    content : bytes
        The old page.

    Returns
    -------
    tuple or None
        None where the page around them rests on rows that have changed, or on what has changed of the sections beside their
        content: how many there are, what they are called, whether one is empty.
    """
    pieces = known.entry["pieces"]
    old = {name: pieces[name]["parts"] for name in parts}
    if PAGE in known.stale or any(len(old[name]) != len(parts[name]) for name in parts) or not _apart(pieces):
        return None
    new = [(place, part) for name, own in parts.items() for place, part in zip(old[name], own, strict=True)]
    if any(_as_seen(part) != _as_told(place, content) for place, part in new):
        return None
    blocks, done, ends, moved = list[bytes](), 0, list[int](), list[int]()
    for (*_, start, end), part in sorted((one for one in new if one[1].markup), key=lambda one: one[0][3]):
        block = part.markup.encode()
        blocks += [content[done:start], block]
        done = end
        ends.append(end)
        moved.append(len(block) - (end - start))
    return b"".join([*blocks, content[done:]]), {name: _moved(piece, ends, moved) for name, piece in pieces.items()}


def _apart(pieces: Mapping[str, Entry]) -> bool:
    """Whether each section of a page has a place of its own."""
    stand = sorted((start, end) for piece in pieces.values() for *_, start, end in piece["parts"] if end > start)
    return all(before[1] <= after[0] for before, after in pairwise(stand))


def _as_seen(part: Part) -> tuple[object, ...]:
    """What a page takes notice of in a section, beside putting it in its place."""
    return part.order, part.body_shown, part.label, bool(part.markup), noticed(part.markup)


def _as_told(place: Sequence[Any], content: bytes) -> tuple[object, ...]:
    """The same of a section of the old page."""
    order, body_shown, label, start, end = place
    return order, body_shown, label, end > start, noticed(content[start:end].decode())


def _moved(piece: Entry, ends: Sequence[int], moved: Sequence[int]) -> Entry:
    """A piece whose sections stand farther down or up, for those before them have become longer or shorter."""
    if not piece["parts"]:
        return piece

    def place(position: int) -> int:
        return position + sum(by for end, by in zip(ends, moved, strict=True) if end <= position)

    return piece | {"parts": [[*said, place(start), place(end)] for *said, start, end in piece["parts"]]}
