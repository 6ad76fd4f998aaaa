"""Words of the trade that mean one of our own words, whatever their case; what is not here is told, never guessed.

They are what coaches write on sheets (common practice), in English and, where it cannot be mistaken, German.
"""

from __future__ import annotations

from types import MappingProxyType

from schemas.clubs import CLUBS

_NAMES: dict[str, str] = {
    "driver": "d dr 1w 1-wood w1 holz-1",
    "pitching-wedge": "pw p pitching",
    "gap-wedge": "gw aw uw gap approach-wedge",
    "sand-wedge": "sw s sand",
    "lob-wedge": "lw l lob",
    "putter": "pt put",
    "light-stick": "light",
    "heavy-stick": "heavy",
}
_NUMBERED = {
    "wood": ("{n}w", "w{n}", "{n}wood", "{n}-holz", "holz-{n}", "wood-{n}"),
    "hybrid": ("{n}h", "h{n}", "{n}hy", "hy{n}", "{n}hybrid", "hybrid-{n}"),
    "iron": ("{n}i", "i{n}", "{n}iron", "{n}-eisen", "eisen-{n}", "e{n}", "iron-{n}"),
}


def _clubs() -> dict[str, str]:
    found = {word: club for club, words in _NAMES.items() for word in words.split()}
    for club in CLUBS:
        number, _, family = club.partition("-")
        if number.isdigit():
            found |= {form.format(n=number): club for form in _NUMBERED[family]}
    spaced = {word.replace("-", " "): club for word, club in (*found.items(), *((club, club) for club in CLUBS))}
    return {word: club for word, club in (spaced | found).items() if word not in CLUBS}


def _each(**words: str) -> dict[str, str]:
    return {word.strip(): meaning for meaning, listed in words.items() for word in listed.split(",")}


SYNONYMS: MappingProxyType[str, MappingProxyType[str, str]] = MappingProxyType(
    {
        name: MappingProxyType(words)
        for name, words in {
            "club": _clubs(),
            "sex": _each(female="f, w, woman, women, girl, weiblich, frau", male="m, man, men, boy, männlich, mann"),
            "handed": _each(right="r, rh, right-handed, right handed, rechts", left="l, lh, left-handed, left handed, links"),
            "standard": _each(scratch="0, scr"),
            "ball": _each(range="range ball, practice, rangeball", premium="tour, tour ball"),
            "onset": _each(sudden="acute, plötzlich", gradual="slow, allmählich"),
            "absence_kind": _each(injury="injured, verletzung, verletzt", illness="ill, sick, krank, krankheit"),
            "kind": _each(range="driving range", gym="fitness, strength", course="round, play", rest="off, day off, rest day"),
            "side": _each(both="bilateral"),
        }.items()
    }
)
"""Name of a field to its words: what may stand in a cell, and the word that is kept."""
