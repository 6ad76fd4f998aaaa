"""The trade's words in ten languages, read from ``words.toml``: what a header, a value, a unit or a remark means."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipelines.stages.intake.draft.gloss import is_japanese, meant_by, pieces_in
from pipelines.stages.intake.draft.letters import bare

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_FILE = Path(__file__).with_name("words.toml")
_NUMBER_WORDS = {
    "no", "nr", "n", "num", "numero", "id", "nummer", "number", "code", "codigo", "codice", "kode", "kod", "kennung",
    "identifiant", "identificador", "identificativo", "kenmerk", "ref", "reference", "番号",
}  # fmt: skip
_STRONGER = {"very", "sehr", "tres", "muy", "molto", "zeer", "muito", "mycket", "meget"}
_LONG_STEM, _LONGEST_END = 5, 2
_LONGEST_PHRASE = 1000
"""A phrase that is the very words of a header counts as longer than any that a short form of a word may stand for."""


@cache
def words() -> dict[str, Any]:
    """The word lists as they stand in the file."""
    return tomllib.loads(_FILE.read_text(encoding="utf-8"))


def _phrases(text: str) -> list[str]:
    return [phrase.strip() for phrase in text.split(";")]


@cache
def _idle() -> frozenset[str]:
    return frozenset(bare(word) for word in _phrases(words()["words"]["idle"])) | _NUMBER_WORDS


def telling(text: str) -> list[str]:
    """The words of a text that say something; all, when none does."""
    parts = [re.sub(r"(?<=\w{3})(nummer|nr|kennung|kode|kod|code)$", "", word) for word in bare(text).split()]
    return [word for word in parts if word not in _idle()] or parts


@cache
def _shortened() -> frozenset[str]:
    return listed_words("shortened")


def _alike(stem: str, word: str) -> bool:
    if word in _shortened() and stem.startswith(word):
        return True
    if word == stem or not word.startswith(stem) or not _LONG_STEM <= len(stem) < len(word) <= len(stem) + _LONGEST_END:
        return word == stem
    return not is_japanese(word)


def unexplained(phrase: Sequence[str], said: Sequence[str]) -> list[str] | None:
    """Words that a phrase leaves over; None when the phrase is not in them. Compounds count as their parts."""
    if "".join(phrase) == "".join(said):
        return []
    left = list(said)
    for stem in phrase:
        match = next((word for word in left if _alike(stem, word)), None)
        if match is None:
            return None
        left.remove(match)
    return left


@dataclass(frozen=True)
class Meaning:
    """What a header seems to mean.

    Attributes
    ----------
    concepts : tuple of str
        Keys of the word list that fit equally well; empty when none does.
    left : tuple of str
        Words of the header that are not explained.
    loose : bool
        It rests on a word that is no name of it by itself.
    also : tuple of str
        What it means word for word too, for a kind of file that has no column for the first.
    """

    concepts: tuple[str, ...]
    left: tuple[str, ...]
    loose: bool = False
    also: tuple[str, ...] = ()


@cache
def _list(*place: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Every phrase of a part of the word list: what it means, and its words."""
    part: Any = words()
    for key in place:
        part = part[key]
    found = []
    for meaning, by_language in part.items():
        for phrases in by_language.values() if isinstance(by_language, dict) else [by_language]:
            found += [(meaning, tuple(telling(phrase))) for phrase in _phrases(phrases)]
    return tuple(dict.fromkeys(found))


@cache
def _by_beginning(*place: str) -> dict[str, tuple[int, ...]]:
    """Two letters, and which phrases of a list begin with them: in their first word, or written in one."""
    found: dict[str, list[int]] = {}
    for at, (_, phrase) in enumerate(_list(*place)):
        for beginning in {phrase[0][:2], "".join(phrase)[:2]} if phrase else ():
            found.setdefault(beginning, []).append(at)
    return {beginning: tuple(places) for beginning, places in found.items()}


def _phrases_near(said: tuple[str, ...], *place: str) -> list[tuple[str, tuple[str, ...]]]:
    """The phrases that can be in these words, for a word and what stands for it begin alike; in the order of the list."""
    listed, index = _list(*place), _by_beginning(*place)
    beginnings = {word[:2] for word in said} | {"".join(said)[:2]}
    return [listed[at] for at in sorted({at for beginning in beginnings for at in index.get(beginning, ())})]


@cache
def meaning_of(text: str, *place: str) -> Meaning:
    """What a text means by a part of the word list: the phrases that leave least over, of these the longest.

    A header that no phrase explains whole is read word for word too, and means what leaves less of it over.
    """
    by_phrase = _by_phrase(telling(text), *place)
    if place:
        return by_phrase
    word_for_word = meant_by(pieces_in(text))
    if by_phrase.concepts and not by_phrase.left:
        others = () if word_for_word.left else (*word_for_word.concepts, *word_for_word.near)
        return replace(by_phrase, also=tuple(name for name in others if name not in by_phrase.concepts))
    if word_for_word.concepts and (not by_phrase.concepts or len(word_for_word.left) < len(by_phrase.left)):
        also = () if word_for_word.left else word_for_word.near
        return Meaning(word_for_word.concepts, word_for_word.left, word_for_word.loose, also)
    return by_phrase


def _by_phrase(said: list[str], *place: str) -> Meaning:
    best: tuple[int, int] = (len(said), 0)
    concepts: dict[str, tuple[str, ...]] = {}
    for concept, phrase in _phrases_near(tuple(said), *(place or ("header",))):
        left = unexplained(phrase, said)
        if left is None:
            continue
        rank = (len(left), -_LONGEST_PHRASE if list(phrase) == said else -sum(map(len, phrase)))
        if rank < best:
            best, concepts = rank, {}
        if rank == best:
            concepts[concept] = tuple(left)
    return Meaning(tuple(concepts), next(iter(concepts.values()), tuple(said)))


def contained(text: str, *place: str) -> tuple[str, tuple[str, ...]]:
    """The one meaning whose phrase a text contains, the longest first, and the words left over; empty when there is none."""
    found = meaning_of(text, *place)
    return (found.concepts[0], found.left) if len(found.concepts) == 1 else ("", found.left)


def value_words(domain: str, cells: Iterable[str]) -> tuple[dict[str, str], bool]:
    """Cells of a column of words to our words, and whether all are understood in one way.

    Languages are tried one by one, since the same letter means different things in different ones; when two languages
    understand all cells and disagree, nothing is sure.
    """
    distinct = list(dict.fromkeys(cells))
    readings: list[dict[str, str]] = []
    meanings: dict[str, set[str]] = {}
    languages = list(next(iter(words()["values"][domain].values())))
    for language in languages:
        known = {
            bare(phrase) or phrase: meaning
            for meaning, by_language in words()["values"][domain].items()
            for phrase in (*_phrases(by_language[language]), meaning)
        }
        read = {cell: meaning for cell in distinct if (meaning := _word_of(known, bare(cell) or cell))}
        readings.append(read)
        for cell, meaning in read.items():
            meanings.setdefault(cell, set()).add(meaning)
    alone = {cell: next(iter(told)) for cell, told in meanings.items() if len(told) == 1 and len(bare(cell)) > 2}
    readings = [alone | read if read else read for read in readings]  # a word of another language that means one thing only
    most = max(map(len, readings), default=0)
    if not most:
        return {}, False
    best = [read for read in readings if len(read) == most]
    apart = [read for read in best if len(set(read.values())) == len({bare(cell) for cell in read})]
    best = apart or best  # M and F are two things: a language in which both are one is not this file's
    agreed = all(read == best[0] for read in best)
    return best[0], agreed and most == len(distinct)


def _word_of(known: dict[str, str], cell: str) -> str:
    """Our word for a cell: as it is listed, with another end, or as a compound all of whose parts mean the same."""
    joined = {word.replace(" ", ""): meaning for word, meaning in known.items()}
    if cell in known or cell.replace(" ", "") in joined:
        return known.get(cell) or joined[cell.replace(" ", "")]
    told = _without_idle(cell)
    plain = {meaning for word, meaning in known.items() if told and _without_idle(word) == told}
    if len(plain) == 1:
        return plain.pop()
    inflected = {known[word] for word in known if len(word) >= _LONG_STEM and _same_stem(word, cell)}
    if len(inflected) == 1:
        return inflected.pop()
    parts = {
        (known[first], known[cell[at + len(link) :]])
        for at in range(3, len(cell) - 2)
        for link in ("", " ", "s", "n", "en")
        if (first := cell[:at]) in known and cell[at:].startswith(link) and cell[at + len(link) :] in known
    }
    return next(iter(parts))[0] if len(parts) == 1 and len(set(next(iter(parts)))) == 1 else ""


@cache
def _without_idle(phrase: str) -> str:
    """A phrase of several words without those that say nothing; empty for a single word."""
    parts = phrase.split()
    return " ".join(word for word in parts if word not in _idle()) if len(parts) > 1 else ""


def _same_stem(word: str, cell: str) -> bool:
    """Whether two words of one gender, number or case each are the same: lesionado, lesionada."""
    stem = word[:-1] if len(word) > _LONG_STEM else word
    return " " not in cell and cell.startswith(stem) and len(cell) - len(stem) <= _LONGEST_END and len(word) - len(stem) <= 1


@cache
def _units() -> dict[str, str]:
    listed = {phrase.casefold(): symbol for symbol, phrases in words()["units"].items() for phrase in _phrases(phrases)}
    return {bare(phrase): symbol for phrase, symbol in listed.items() if len(phrase) > _LONG_STEM and bare(phrase)} | listed


def unit_of(text: str) -> str:
    """Our symbol for a unit as it is written; empty when it is none."""
    said = unicodedata.normalize("NFC", text).strip().strip("[]()（）").strip().casefold()
    return _units().get(said) or _units().get(bare(said) if len(said) > _LONG_STEM else "", "")


def brackets(header: str) -> list[str]:
    """What stands in brackets in a header."""
    return [part.strip() for part in re.findall(r"[\[(（【](.*?)[\])）】]", header)]


def split_unit(header: str) -> tuple[str, str]:
    """A header without its unit, and the unit: in brackets, or the last word behind a blank, a comma or an underscore."""
    for part in brackets(header):
        first = re.split(r"\s*[,;]\s*", part)[0]  # (m, right +)
        unit = unit_of(first) or unit_of(part)
        if unit:
            return re.sub(r"\s*[\[(（【]" + re.escape(part) + r"\s*[\])）】]\s*", " ", header).strip(), unit
    plain = re.sub(r"\s*[\[(（【].*?[\])）】]\s*$", "", header.strip())
    for words_of_unit in (4, 3, 2):  # varv per min
        parts = plain.split()
        unit = unit_of(" ".join(parts[-words_of_unit:])) if len(parts) > words_of_unit else ""
        if unit:
            return f"{' '.join(parts[:-words_of_unit])} {header.strip()[len(plain) :]}".strip(), unit
    match = re.fullmatch(r"(.+?)(?:\s*,\s*|[\s_]+|\s+in\s+|\s*/\s*)([^\s_,]+)", plain)
    if match:
        unit = unit_of(match[2].replace("mps", "m/s")) or unit_of(match[2])
        if unit and match[2].lower() not in {"in", "no", "s", "y", "c", "f"}:
            return re.sub(r"\s+in$", "", match[1]) + header.strip()[len(plain) :], unit
    return header, ""


def side_of(word: str) -> str:
    """``plus`` for right or toe, ``minus`` for left or heel; empty for anything else."""
    for sign, key in (("plus", "right"), ("minus", "left")):
        if bare(word) in {bare(phrase) for phrase in _phrases(words()["side"][key])}:
            return sign
    return ""


@cache
def listed_words(key: str) -> frozenset[str]:
    """The words of one list, bare."""
    return frozenset(bare(phrase) for phrase in _phrases(words()["words"][key]))


def end_of_scale(text: str) -> str:
    """``none`` or ``worst`` for what a number of a scale is said to mean; empty when that is not clear."""
    phrase = bare(text)
    ends = {key: listed_words(key) for key in ("none", "worst")}
    whole = [key for key, known in ends.items() if phrase in known]
    if len(whole) == 1:
        return whole[0]
    parts = [word for word in phrase.split() if word not in _STRONGER]
    found = {key for key, known in ends.items() if any(word in known for word in parts)}
    return found.pop() if len(found) == 1 and not whole else ""
