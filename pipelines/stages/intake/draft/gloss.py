"""Headers read word for word: each word as the plain words of ``dictionary.toml`` that it may stand for, compounds taken apart.

A header is then a bag of such words, and means the phrase or the pattern that leaves least of it over.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipelines.stages.intake.draft.letters import bare

if TYPE_CHECKING:
    from collections.abc import Sequence

_FILE = Path(__file__).with_name("dictionary.toml")
_LINKS = ("", "s", "es", "n", "en", "e", "er", "et", "ets")
"""What Germanic languages put between the parts of a compound."""
_LONGEST_END, _LONG_STEM, _LEAST_PART = 2, 5, 3
_GENITIVES, _SHORT_STEM = ("ens", "ets", "nas", "ernes", "enes"), 4
"""How Swedish and Danish say "of the"."""
_MOST_WORDS = 14
"""A header of more words than this is a sentence that nothing is made of."""
_LOOSE = "~"
"""Marks a word that may stand for another, but is no name of it by itself: a junior is a player, a circle a club."""


@dataclass(frozen=True)
class Piece:
    """A word of a header, or a part of a compound.

    Attributes
    ----------
    text : str
    words : frozenset of str
        What it may stand for; empty when it is not known.
    loose : frozenset of str
        Of these, what it stands for only loosely.
    """

    text: str
    words: frozenset[str]
    loose: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Pattern:
    """Words that together mean a concept, and words that may stand beside them."""

    concept: str
    needed: tuple[str, ...]
    beside: frozenset[str]


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(_FILE.read_text(encoding="utf-8"))


@cache
def _known() -> dict[str, Piece]:
    """Every word of the dictionary, bare, with what it may stand for."""
    named: dict[str, set[str]] = {}
    loose: dict[str, set[str]] = {}
    for word, by_language in _data()["word"].items():
        for told in by_language.values():
            for each in told.split():
                if plain := bare(each).replace(" ", ""):
                    (loose if each.startswith(_LOOSE) else named).setdefault(plain, set()).add(word)
    return {
        plain: Piece(
            plain,
            frozenset(named.get(plain, set()) | loose.get(plain, set())),
            frozenset(loose.get(plain, set()) - named.get(plain, set())),
        )
        for plain in {*named, *loose}
    }


@cache
def patterns() -> tuple[Pattern, ...]:
    """All patterns of the dictionary."""
    found = []
    for concept, text in _data()["pattern"].items():
        for one in text.split(";"):
            needed, _, beside = one.partition("|")
            found.append(Pattern(concept, tuple(needed.split()), frozenset(beside.split())))
    return tuple(found)


def _stands_for(word: str) -> Piece | None:
    """What a word may stand for, its end left out where it is long enough; None when it is not known."""
    known = _known()
    if word in known:
        return known[word]
    for cut in range(1, _LONGEST_END + 1) if not is_japanese(word) else ():
        stem = word[:-cut]
        if len(stem) >= _LONG_STEM and stem in known:
            return replace(known[stem], text=word)
    for end in _GENITIVES:
        stem = word.removesuffix(end)
        if stem != word and len(stem) >= _SHORT_STEM and stem in known:
            return replace(known[stem], text=word)
    return None


@cache
def pieces_of(word: str) -> tuple[Piece, ...]:
    """A word as itself, or as the fewest known words that it is made of; as itself and unknown when it is none."""
    whole = _stands_for(word)
    if whole is not None:
        return (whole,)
    apart = _apart(word) if len(word) >= 2 * _LEAST_PART or not word.isascii() else None
    return apart or (Piece(word, frozenset()),)


@cache
def _apart(word: str) -> tuple[Piece, ...] | None:
    """The fewest known parts of a compound, the longest first; None when something is left over."""
    least = _LEAST_PART if word.isascii() or not is_japanese(word) else 1
    best: tuple[Piece, ...] | None = None
    for end in range(len(word), least - 1, -1):
        head, rest = word[:end], word[end:]
        known = _known().get(head) or (_stands_for(head) if not rest else None)
        if not known or (least > 1 and known.words == {"idle"}):
            continue
        for link in _LINKS if rest and least > 1 else ("",):
            if not rest.startswith(link):
                continue
            tail: tuple[Piece, ...] | None = () if not rest[len(link) :] else _apart(rest[len(link) :])
            if tail is not None and (best is None or len(tail) + 1 < len(best)):
                best = (known, *tail)
    return best


def is_japanese(text: str) -> bool:
    """Whether a text has Japanese letters, so that its words are not set apart and have no ends."""
    return bool(re.search(r"[\u3040-\u30ff\u4e00-\u9fff々ー]", text))


def glossed(said: Sequence[str]) -> tuple[Piece, ...]:
    """The words of a header, compounds apart, those that say nothing left out."""
    found = [piece for word in said for piece in pieces_of(word)]
    telling = [piece for piece in found if "idle" not in piece.words or piece.words - {"idle"}]
    return tuple(telling)


def pieces_in(text: str) -> tuple[Piece, ...]:
    """The telling words of a text, compounds apart."""
    return glossed(bare(text).split())


def _assigned(needed: tuple[str, ...], pieces: tuple[Piece, ...], free: frozenset[int]) -> frozenset[int] | None:
    """The pieces that are left when each needed word has taken one of its own; None when one finds none."""
    if not needed:
        return free
    for at in sorted(free, key=lambda place: len(pieces[place].words)):
        if needed[0] in pieces[at].words:
            left = _assigned(needed[1:], pieces, free - {at})
            if left is not None:
                return left
    return None


@dataclass(frozen=True)
class Glossed:
    """What a header means, read word for word.

    Attributes
    ----------
    concepts : tuple of str
        Those that leave least of it over, of these those with the longest patterns.
    left : tuple of str
        What they leave over.
    loose : bool
        All of them rest on one word that stands for it only loosely.
    near : tuple of str
        Other concepts that it means loosely.
    """

    concepts: tuple[str, ...]
    left: tuple[str, ...]
    loose: bool = False
    near: tuple[str, ...] = ()


def meant_by(pieces: tuple[Piece, ...]) -> Glossed:
    """What the pieces of a header mean."""
    texts = tuple(piece.text for piece in pieces)
    best: tuple[int, int] = (len(pieces), 0)
    found: dict[str, tuple[str, ...]] = {}
    loose: dict[str, bool] = {}
    said = frozenset[str]().union(*(piece.words for piece in pieces))
    for pattern in patterns() if len(pieces) <= _MOST_WORDS else ():
        if not said.issuperset(pattern.needed):
            continue
        free = _assigned(pattern.needed, pieces, frozenset(range(len(pieces))))
        if free is None:
            continue
        beside = {*pattern.beside, "number", "idle"}
        over = tuple(pieces[at].text for at in sorted(free) if not pieces[at].words & beside)
        rank = (len(over), -len(pattern.needed))
        if rank < best:
            best, found, loose = rank, {}, {}
        if rank == best:
            found.setdefault(pattern.concept, over)
            loose[pattern.concept] = loose.get(pattern.concept, True) and (
                _is_loose(pattern.needed, pieces)
                or any(
                    not (pieces[at].words - pieces[at].loose) & beside and not pieces[at].words & {*pattern.needed}
                    for at in free
                    if pieces[at].words & beside
                )
            )
    named = {concept: over for concept, over in found.items() if not loose[concept]}
    kept = named or found
    near = tuple(concept for concept in found if concept not in kept)
    return Glossed(tuple(kept), next(iter(kept.values()), texts), bool(kept) and not named, near)


def _is_loose(needed: tuple[str, ...], pieces: tuple[Piece, ...]) -> bool:
    """Whether a pattern of one word rests on what stands for it only loosely."""
    return len(needed) == 1 and all(needed[0] in piece.loose for piece in pieces if needed[0] in piece.words)
