"""Who was forgotten, without saying who: names are known again by keyed marks, and taken out of text wherever they come back.

``.forgotten.json`` lies beside the warehouse and in no backup. It holds a secret, and for each name of a person who was erased a
mark that only this secret makes: with it a restored backup, or an old file that is dropped again, stays without the person.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import re
import secrets
import unicodedata
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.disk import write_durably

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable
    from datetime import datetime
    from pathlib import Path

ERASED = "[erased]"
_WORD = re.compile(r"[^\W_]+")
_SHORTEST, _LONG_ENOUGH = 2, 4
_WRITTEN_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe", "æ": "ae"})
_NO_MARK = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "æ": "ae", "œ": "oe", "ı": "i"})
"""Letters that hold no mark that could be set apart."""
_AROUND = 3
"""So many words on either side may belong to the longer name of somebody who is still here."""


def folded_words(name: str) -> str:
    """A name as it is known again: its words, whatever stands between them, without regard to case."""
    return " ".join(_WORD.findall(name.casefold()))


def spellings(name: str) -> frozenset[str]:
    """A name as people and machines also write it, folded: umlauts written out, letters without their marks, marks set apart."""
    whole = unicodedata.normalize("NFC", name).casefold()
    written = whole.translate(_WRITTEN_OUT)
    found = map(folded_words, (name, whole, _set_apart(whole), written, _bare(whole), _bare(written)))
    return frozenset(one for one in found if len(one) >= _LONG_ENOUGH)


def _behind_marks(text: str, at: int) -> int:
    """Where the marks end that belong to the letter before a place."""
    while at < len(text) and unicodedata.combining(text[at]):
        at += 1
    return at


def _set_apart(text: str) -> str:
    """As names of files come from some systems: each mark is a sign of its own behind its letter."""
    return unicodedata.normalize("NFD", text)


def _bare(text: str) -> str:
    return "".join(sign for sign in _set_apart(text.translate(_NO_MARK)) if not unicodedata.combining(sign))


def _is_findable(name: str) -> bool:
    """Whether a name can be told from other text: a bare number cannot."""
    return len(name) >= _SHORTEST and not name.replace(" ", "").isdigit()


@dataclass(frozen=True)
class Forgotten:
    """Marks of everybody who was erased.

    Attributes
    ----------
    key : bytes
    ids : frozenset of str
        Marks of ids: of players, and of their sessions, trials and flags.
    names : frozenset of str
        Marks of names that are looked for in any text.
    heads : frozenset of str
        Marks of the first words of these names.
    longest : int
        Words of the longest name.
    since : dict
        Mark of a player to the day of the erasure.
    spared : frozenset of str
        Folded names of people who are here: what belongs to them is left as it is.
    """

    key: bytes
    ids: frozenset[str] = frozenset()
    names: frozenset[str] = frozenset()
    heads: frozenset[str] = frozenset()
    longest: int = 1
    since: dict[str, str] = field(default_factory=dict)
    spared: frozenset[str] = frozenset()
    _marks: dict[tuple[str, str], str] = field(default_factory=dict, repr=False, compare=False)
    _others: set[str] = field(default_factory=set, repr=False, compare=False)

    def sparing(self, names: Iterable[str]) -> Forgotten:
        """The same marks, beside people of these names who are here."""
        return replace(self, spared=frozenset(map(folded_words, names)))

    def mark(self, what: str, text: str) -> str:
        """The mark of a text, as one of ids, names or heads."""
        known = self._marks.get((what, text))
        if known is None:
            known = hmac.digest(self.key, f"{what}\x1f{text}".encode("utf-8", "surrogatepass"), hashlib.sha256).hex()[:32]
            self._marks[what, text] = known
        return known

    def has_id(self, value: str) -> bool:
        """Whether this is an id of somebody who was erased."""
        return self.mark("id", value.strip()) in self.ids

    def found_in(self, values: Iterable[str]) -> tuple[str, ...]:
        """Those of these ids that were erased."""
        return tuple(sorted(value for value in set(values) if self.has_id(value)))

    def people_in(self, player_ids: Iterable[str]) -> tuple[str, ...]:
        """Those of these players who were erased."""
        return tuple(sorted(player_id for player_id in set(player_ids) if self.mark("id", player_id) in self.since))

    def may_be_in(self, text: str) -> bool:
        """Whether any word of the text begins a name; quick, and False is sure."""
        return bool(self._heads_among(set(_WORD.findall(text.casefold()))))

    def _heads_among(self, words: set[str]) -> set[str]:
        """Those of these folded words that begin a name; the others are remembered: pages say the same words again and again."""
        new = words - self._others
        found = {word for word in new if self.mark("head", word) in self.heads}
        self._others.update(new - found)
        return found

    def spans(self, text: str, *, loosely: bool = False) -> list[tuple[int, int]]:
        """Where names stand in a text; ``loosely``: short ones also joined to others by ``-`` or ``_``, as in names of files."""
        words = list(_WORD.finditer(text))
        folded = [word[0].casefold() for word in words]
        heads = self._heads_among(set(folded))
        found: list[tuple[int, int]] = []
        for at in [at for at, word in enumerate(folded) if word in heads] if heads else []:
            if found and words[at].start() < found[-1][1]:
                continue
            n = self._length(folded, at)
            if n and not self._is_spared(folded, at, n):
                start, end = words[at].start(), _behind_marks(text, words[at + n - 1].end())
                is_joined = text[max(start - 1, 0) : start] in {"-", "_"} or text[end : end + 1] in {"-", "_"}
                if loosely or end - start >= _LONG_ENOUGH or not is_joined:
                    found.append((start, end))
        return found

    def _length(self, folded: list[str], at: int) -> int:
        lengths = range(min(self.longest, len(folded) - at), 0, -1)
        return next((n for n in lengths if self.mark("name", " ".join(folded[at : at + n])) in self.names), 0)

    def _is_spared(self, folded: list[str], at: int, n: int) -> bool:
        """Whether the words are part of the longer name of somebody who is here."""
        return any(
            " ".join(folded[max(at - before, 0) : at + n + after]) in self.spared
            for before in range(_AROUND + 1)
            for after in range(_AROUND + 1)
        )

    def masked(self, text: str, *, loosely: bool = False, instead: str = "") -> str:
        """The text with names taken out."""
        for start, end in reversed(self.spans(text, loosely=loosely)):
            text = f"{text[:start]}{instead or ('erased' if loosely else ERASED)}{text[end:]}"
        return text


def marks_of(names: Collection[str], spared: Iterable[str] = ()) -> Forgotten:
    """Marks by which these names are found in any text, and kept nowhere."""
    found = Forgotten(secrets.token_bytes(32))
    folded = {name for name in map(folded_words, names) if _is_findable(name)}
    return replace(
        found,
        ids=frozenset(found.mark("id", name) for name in names),
        names=frozenset(found.mark("name", name) for name in folded),
        heads=frozenset(found.mark("head", name.split()[0]) for name in folded),
        longest=max((len(name.split()) for name in folded), default=1),
        spared=frozenset(map(folded_words, spared)),
    )


def read_forgotten(workspace: Path) -> Forgotten | None:
    """The marks that a workspace keeps; None when nobody was ever erased."""
    path = workspace / ".forgotten.json"
    if not path.is_file():
        return None
    raw = json.loads(path.read_bytes())
    return Forgotten(
        bytes.fromhex(raw["key"]),
        frozenset(raw["ids"]),
        frozenset(raw["names"]),
        frozenset(raw["heads"]),
        longest=raw["longest"],
        since=raw["since"],
    )


def forget(workspace: Path, player_id: str, ids: Iterable[str], aliases: Iterable[str], now: datetime) -> None:
    """Write down the marks of a person, on the disk before this returns; doing it again adds nothing.

    Parameters
    ----------
    workspace : Path
    player_id : str
    ids : iterable of str
        Of the player's sessions, trials and flags.
    aliases : iterable of str
        Names by which the player, and nobody who stays, is called.
    now : datetime
    """
    known = read_forgotten(workspace) or Forgotten(secrets.token_bytes(32))
    names = {folded_words(name) for name in (player_id, *aliases)}
    names = {name for name in names if _is_findable(name)}
    text = json.dumps(
        {
            "key": known.key.hex(),
            "ids": sorted(known.ids | {known.mark("id", one) for one in (player_id, *ids)}),
            "names": sorted(known.names | {known.mark("name", name) for name in names}),
            "heads": sorted(known.heads | {known.mark("head", name.split()[0]) for name in names}),
            "longest": max([known.longest, *(len(name.split()) for name in names)]),
            "since": {known.mark("id", player_id): f"{now:%Y-%m-%d}"} | known.since,
        }
    )
    write_durably(workspace / ".forgotten.json", text.encode())
