"""Headers read word for word: each word as the plain words of ``dictionary.toml`` that it may stand for, compounds taken apart.

A header is then a bag of such words, and means the phrase or the pattern that leaves least of it over.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
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
_MOST_WORDS = 9


@dataclass(frozen=True)
class Piece:
    """A word of a header, or a part of a compound.

    Attributes
    ----------
    text : str
    words : frozenset of str
        What it may stand for; empty when it is not known.
    """

    text: str
    words: frozenset[str]


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
def _known() -> dict[str, frozenset[str]]:
    """Every word of the dictionary, bare, with what it may stand for."""
    found: dict[str, set[str]] = {}
    for word, by_language in _data()["word"].items():
        for told in by_language.values():
            for each in told.split():
                if plain := bare(each).replace(" ", ""):
                    found.setdefault(plain, set()).add(word)
    return {word: frozenset(words) for word, words in found.items()}


@cache
def patterns() -> tuple[Pattern, ...]:
    """All patterns of the dictionary."""
    found = []
    for concept, text in _data()["pattern"].items():
        for one in text.split(";"):
            needed, _, beside = one.partition("|")
            found.append(Pattern(concept, tuple(needed.split()), frozenset(beside.split())))
    return tuple(found)


def _stands_for(word: str) -> frozenset[str]:
    """What a word may stand for, its end left out where it is long enough."""
    known = _known()
    if word in known:
        return known[word]
    for cut in range(1, _LONGEST_END + 1):
        stem = word[:-cut]
        if len(stem) >= _LONG_STEM and stem in known:
            return known[stem]
    return frozenset()


@cache
def pieces_of(word: str) -> tuple[Piece, ...]:
    """A word as itself, or as the fewest known words that it is made of; as itself and unknown when it is none."""
    whole = _stands_for(word)
    if whole:
        return (Piece(word, whole),)
    apart = _apart(word) if len(word) >= 2 * _LEAST_PART or not word.isascii() else None
    return apart or (Piece(word, frozenset()),)


@cache
def _apart(word: str) -> tuple[Piece, ...] | None:
    """The fewest known parts of a compound, the longest first; None when something is left over."""
    least = _LEAST_PART if word.isascii() or not _is_japanese(word) else 1
    best: tuple[Piece, ...] | None = None
    for end in range(len(word), least - 1, -1):
        head, rest = word[:end], word[end:]
        known = _known().get(head) or (_stands_for(head) if not rest else None)
        if not known:
            continue
        for link in _LINKS if rest and least > 1 else ("",):
            if not rest.startswith(link):
                continue
            tail: tuple[Piece, ...] | None = () if not rest[len(link) :] else _apart(rest[len(link) :])
            if tail is not None and (best is None or len(tail) + 1 < len(best)):
                best = (Piece(head, known), *tail)
    return best


def _is_japanese(text: str) -> bool:
    return bool(re.search(r"[\u3040-\u30ff\u4e00-\u9fff々ー]", text))


def glossed(said: Sequence[str]) -> tuple[Piece, ...]:
    """The words of a header, compounds apart, those that say nothing left out."""
    found = [piece for word in said for piece in pieces_of(word)]
    telling = [piece for piece in found if "idle" not in piece.words or piece.words - {"idle"}]
    return tuple(telling)[:_MOST_WORDS]


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


def meant_by(pieces: tuple[Piece, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Concepts that leave least of the pieces over, of these those with the longest patterns; and what is left over."""
    best: tuple[int, int] = (len(pieces), 0)
    found: dict[str, tuple[str, ...]] = {}
    for pattern in patterns():
        free = _assigned(pattern.needed, pieces, frozenset(range(len(pieces))))
        if free is None:
            continue
        over = tuple(pieces[at].text for at in sorted(free) if not pieces[at].words & {*pattern.beside, "number", "idle"})
        rank = (len(over), -len(pattern.needed))
        if rank < best:
            best, found = rank, {}
        if rank == best:
            found.setdefault(pattern.concept, over)
    return tuple(found), next(iter(found.values()), tuple(piece.text for piece in pieces))
