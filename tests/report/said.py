"""What pages say of each player, read back by the templates of the words file, and all sentences in conflict.

A sentence is known by its template (``trend.up``), so that its numbers have names; nothing is looked for by loose words. The
rules say which numbers and verdicts of which templates must be the same, and which verdict fits the interval printed in it.
"""

from __future__ import annotations

import html
import re
import string
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from itertools import takewhile
from typing import TYPE_CHECKING

import polars as pl

from reports.words import MINUS
from reports.words import words as words_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from reports.words import Words

TREND = ("up", "down", "flat", "open", "learning", "stalled")
SINCE = ("since_more", "since_less", "since_small", "since_same")
APART = ("flat_small", "open_more", "open_less")
"""Texts of a verdict where the interval leaves out zero."""
FLAGS = {
    "flag.wild_rise.full": "the share of wild shots",
    "flag.speed_fall.drawn": "club speed",
    "flag.speed_rise.drawn": "club speed",
    "flag.speed_stall.full": "club speed",
}
"""Flags whose value is a level that is followed, and the name of its trend."""
READ = (
    *(f"trend.{name}" for name in (*TREND[:4], "stalled", *APART, "learning.one", "learning.other", *SINCE)),
    *(f"{group}.{name}" for group in ("trend_own", "player.own", "player.lead") for name in TREND[:5]),
    *(f"{group}.past" for group in ("trend", "trend_own", "player.own", "player.lead")),
    *(f"season.{name}" for name in ("gained", "lost", "same", "costs", "saves")),
    *("own.good.days.other", "own.try.body", "own.try.load_jump", "own.try.load_flat"),
    *("ball.detail", "own.good.growth", "own.good.strokes_better", "flag.today", "trend_own.open_more", "trend_own.open_less"),
)
ITEMS = tuple(f"ball.item.{name}" for name in ("costs", "saves", "open"))
"""Templates that are read, and those of the courses in ``ball.detail``."""

_BLOCKS = re.compile(r"</?(?:p|li|td|th|tr|h[1-6]|div|dt|dd|section|figcaption|caption|summary|title)\b[^>]*>")
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?:e-\d+)?")


@dataclass(frozen=True)
class Said:
    """One sentence: its template, and what stands in its places."""

    key: str
    values: Mapping[str, str]

    def number(self, name: str) -> float:
        """The first number in a place."""
        return numbers(self.values[name])[0]


def numbers(text: str) -> list[float]:
    """The numbers of a text, in its order."""
    for key, value in (("just_below", "-1e-9"), ("just_above", "+1e-9")):
        text = text.replace(words_of("en").texts[f"numbers.{key}"], value)
    return [float(one) for one in _NUMBER.findall(text)]


def plain(text: str) -> str:
    """With usual spaces and minus signs."""
    return re.sub(r"\s+", " ", text.replace(MINUS, "-").replace("\N{NARROW NO-BREAK SPACE}", " ")).strip()


def blocks(page: str) -> list[str]:
    """The texts of a page, block by block; no scripts, no drawings."""
    shown = re.sub(r"<(script|style|svg)\b.*?</\1>", "", page, flags=re.DOTALL)
    texts = (plain(html.unescape(re.sub(r"<[^>]+>", "", part))) for part in _BLOCKS.split(shown))
    return [text for text in texts if text]


@cache
def template(text: str) -> re.Pattern[str]:
    seen: set[str] = set()
    parts = []
    for literal, name, _, _ in string.Formatter().parse(text):
        parts.append(re.escape(plain_piece(literal)))
        if name:
            parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>.+?)")
            seen.add(name)
    end = r"(?=;|\.(?:\s|$)|$)" if text.endswith("}") else r"(?=\W|$)(?!\d)"
    return re.compile("".join(parts) + end, re.IGNORECASE)


@cache
def _pieces(text: str) -> tuple[str, ...]:
    """What must stand in a text that the template makes."""
    return tuple(plain_piece(literal).lower() for literal, *_ in string.Formatter().parse(text) if literal)


_SAID: dict[tuple[str, str], list[Said]] = {}


def plain_piece(literal: str) -> str:
    """A piece of a template in usual spaces and signs, its own spaces kept."""
    return re.sub(r"\s+", " ", literal.replace(MINUS, "-").replace("\N{NARROW NO-BREAK SPACE}", " "))


def sentences(page: str, words: Words) -> list[Said]:
    """Every sentence of the page that one of the templates makes, in the order of the page; one page is read once."""
    if (words.language, page) not in _SAID:
        _SAID[words.language, page] = [one for block in blocks(page) for one in read(block, words, READ)]
    return list(_SAID[words.language, page])


def read(block: str, words: Words, keys: tuple[str, ...]) -> list[Said]:
    """Sentences of these templates in one text, in its order."""
    low = block.lower()
    here = []
    for key in keys:
        text = words.texts[key]
        if all(piece in low for piece in _pieces(text)):
            here += [(match.start(), Said(key, match.groupdict())) for match in template(text).finditer(block)]
    return [said for _, said in sorted(here, key=lambda one: one[0])]


def squad_rows(page: str) -> dict[str, dict[str, str]]:
    """The lines of the squad page by player: text of each cell by the first word of its label, with its note."""
    found = {}
    for row in re.findall(r"<tr\b.*?</tr>", page, flags=re.DOTALL):
        cells = re.findall(r'<t[hd]\b[^>]*data-label="([^"]*)"[^>]*>(.*?)</t[hd]>', row, flags=re.DOTALL)
        if cells:
            told = {
                label.split(",")[0]: " | ".join(
                    blocks(cell.replace("<span", "<p").replace("</span>", "</p>").replace("<br>", "<p>"))
                )
                for label, cell in cells
            }
            found[told.get("Player", "")] = told
    return found


@dataclass
class Compared:
    """Conflicts, and how many comparisons each rule made."""

    conflicts: list[str] = field(default_factory=list)
    made: Counter[str] = field(default_factory=Counter)

    def check(self, rule: str, who: str, *, holds: bool, said: object) -> None:
        """Count one comparison, and note it where it does not hold."""
        self.made[rule] += 1
        if not holds:
            self.conflicts.append(f"{who}: {rule}: {said}")


def _verdict(key: str) -> str:
    name = key.split(".")[-1 if not key.startswith("trend.learning") else 1]
    return "open" if name == "stalled" else name.split("_")[0]


def levels(said: list[Said]) -> Iterator[tuple[str, float]]:
    """Every level of the driver's speed that these sentences tell; of the trend the first, the others are of other clubs."""
    first = next((one for one in said if one.key.startswith("trend.") and "since" not in one.key), None)
    for one in said:
        if one is first or one.key.startswith(("season.gained", "season.lost", "season.same", "player.lead", "player.own")):
            yield one.key, one.number("level")
        elif one.key == "own.good.growth":
            yield one.key, one.number("now")


def _verdicts(said: list[Said]) -> Iterator[tuple[str, str]]:
    first = next((one for one in said if one.key.startswith("trend.") and "since" not in one.key), None)
    for one in said:
        if one is first or one.key.startswith(("player.lead", "player.own")):
            yield one.key, _verdict(one.key)


def beside_intervals(said: list[Said], who: str, told: Compared) -> None:
    """No verdict stands against the interval that is printed beside it."""
    for one in said:
        if "interval" not in one.values:
            continue
        low, high = numbers(one.values["interval"])[-2:]
        name = one.key.split(".")[-1]
        if name in {"up", "since_more", "costs"}:
            told.check("verdict and interval", who, holds=low >= 0, said=one)
        elif name in {"down", "since_less", "saves"}:
            told.check("verdict and interval", who, holds=high <= 0, said=one)
        elif one.key in {"ball.item.open", "trend.since_same", "trend.open", "trend.flat"}:
            told.check("verdict and interval", who, holds=low <= 0 <= high, said=one)
        elif name in {"since_small", "flat_small", "open_more", "open_less"}:
            told.check("verdict and interval", who, holds=low >= 0 or high <= 0, said=one)
        if name in {"flat", "flat_small"}:
            told.check("flat is small", who, holds=abs(one.number("change")) <= one.number("worthwhile"), said=one)
        if one.key.startswith("trend.") and "change" in one.values:
            change = one.number("change")
            told.check("change in its interval", who, holds=low - 0.06 <= change <= high + 0.06, said=one)


def of_courses(said: list[Said], words: Words) -> list[Said]:
    """The change on each course, that of the home course first."""
    listed = (one.values["items"] for one in said if one.key == "ball.detail")
    return [found for items in listed for item in items.split("; ") for found in read(item, words, ITEMS)]


def of_player(coach: list[Said], own: list[Said], row: Mapping[str, str], who: str, told: Compared) -> None:
    """All sentences of one player: coach's page, own page, squad row."""
    spoken = [*levels(coach), *levels(own)]
    speed = row.get("Driver speed", "")
    if numbers(speed):
        spoken.append(("squad", numbers(speed)[0]))
    told.check("one level", who, holds=len({value for _, value in spoken}) <= 1, said=spoken)
    verdicts = [*_verdicts(coach), *_verdicts(own)]
    called = row.get("Change", "").split(" | ")[-1]
    names = {"up": "up", "down": "down", "steady": "flat", "not clear yet": "open", "learning": "learning"}
    names |= {"no drives": "past"}
    if called in names and verdicts:
        verdicts.append(("squad", names[called]))
    told.check("one verdict", who, holds=len({value for _, value in verdicts}) <= 1, said=verdicts)
    keys = {one.key for one in own}
    rests = keys & {"own.try.body", "own.try.load_jump", "own.try.load_flat"}
    if rests:
        told.check("goes on or rests", who, holds="own.good.days.other" not in keys, said=sorted(keys))
    _then_and_now(coach, own, who, told)
    _strokes(coach, own, row.get("Strokes", ""), who, told)


def flags_and_levels(page: str, words: Words, who: str, told: Compared) -> None:
    """What an open flag says of now, or says without a day, is the level of its trend: flags stand before the trends."""
    trends = [one for one in sentences(page, words) if one.key.startswith("trend.") and "level" in one.values]
    for block in takewhile(lambda text: not any(one.key.startswith("trend.") for one in read(text, words, READ)), blocks(page)):
        said = read(block, words, (*FLAGS, "flag.today"))
        if not said or said[0].key not in FLAGS or said[0].values["club"] != "driver":
            continue
        now = said[1].number("now") if len(said) > 1 else said[0].number("value")
        level = next((one.number("level") for one in trends if one.values["metric"].lower() == FLAGS[said[0].key]), None)
        if level is not None:
            told.check("flag and level", who, holds=level == now, said=(*said, level))


def _then_and_now(coach: list[Said], own: list[Said], who: str, told: Compared) -> None:
    season = next((one for one in coach if one.key in {"season.gained", "season.lost", "season.same"}), None)
    since = next((one for one in coach if one.key.startswith("trend.since")), None)
    ways = {"season.gained": {"since_more"}, "season.lost": {"since_less"}, "season.same": {"since_same", "since_small"}}
    if season and since:
        told.check("then and now", who, holds=since.key.split(".")[-1] in ways[season.key], said=(season, since))
        if "amount" in season.values:
            apart = abs(since.number("now") - since.number("before"))
            told.check("amount", who, holds=abs(apart - season.number("amount")) < 0.01, said=(season, since))
    grown = next((one for one in own if one.key == "own.good.growth"), None)
    if grown:
        apart = grown.number("now") - grown.number("before")
        told.check("gain adds up", who, holds=abs(apart - grown.number("gained")) < 0.01, said=grown)
    if grown and since:
        told.check("growth", who, holds=since.key == "trend.since_more", said=(grown, since))
    for one in (*coach, *own):
        if one.key.startswith("trend.since"):
            way = one.number("now") - one.number("before")
            sign = {"trend.since_more": way > 0, "trend.since_less": way < 0}.get(one.key, True)
            told.check("direction", who, holds=sign, said=one)


def _strokes(coach: list[Said], own: list[Said], cell: str, who: str, told: Compared) -> None:
    season = next((one for one in coach if one.key in {"season.costs", "season.saves"}), None)
    home = next((one for one in coach if one.key in ITEMS), None)
    better = next((one for one in own if one.key == "own.good.strokes_better"), None)
    shown = numbers(cell)
    amounts = [(one.key, one.number("amount")) for one in (season, better) if one]
    if home and "amount" in home.values:
        amounts.append((home.key, home.number("amount")))
    if amounts and shown:
        amounts.append(("squad", abs(shown[0])))
    told.check("one number of strokes", who, holds=len({value for _, value in amounts}) <= 1, said=amounts)
    signs = {"season.costs": 1, "season.saves": -1, "ball.item.costs": 1, "ball.item.saves": -1, "own.good.strokes_better": -1}
    told_signs = {signs[one.key] for one in (season, home, better) if one and one.key in signs}
    if shown and told_signs:
        told_signs.add(1 if shown[0] > 0 else -1)
    told.check("cost or save", who, holds=len(told_signs) <= 1, said=(season, home, better, cell))
    today = [one for one in coach if one.key == "flag.today" and "stroke" in one.values["now"]]
    for one in today:
        now = one.number("now") * (-1 if " less" in one.values["now"] else 1)
        told.check("strokes of a flag today", who, holds=bool(shown) and now == shown[0], said=(one, cell))


def compared(pages: Mapping[str, tuple[str, str]], squad: str, words: Words) -> Compared:
    """Every conflict: ``pages`` holds the coach's and the own page of each player by name, ``squad`` the squad page."""
    told, rows = Compared(), squad_rows(squad)
    for who, (coach_page, own_page) in sorted(pages.items()):
        coach, own = sentences(coach_page, words), sentences(own_page, words)
        coach += of_courses(coach, words)
        of_player(coach, own, rows.get(who, {}), who, told)
        beside_intervals([*coach, *own], who, told)
        flags_and_levels(coach_page, words, who, told)
    return told


def site_pages(root: Path) -> tuple[dict[str, tuple[str, str]], str]:
    """The coach's and the own page of each player of a workspace by name, and the squad page."""
    links = pl.read_csv(root / "player-links.csv")
    pages = {
        alias: tuple((root / path).read_text(encoding="utf-8") for path in (f"site/coach/players/{player_id}.html", own))
        for player_id, alias, own in links.select("player_id", "alias", "page").iter_rows()
    }
    return pages, (root / "site" / "coach" / "squad.html").read_text(encoding="utf-8")  # type: ignore[return-value] # pairs
