"""What Today, the physio's pages, the trials' and the comparison say, held against the players' pages and against each other.

A finding is known by its id, a trial by its page, a level by its place in a table; read back by the templates of the words file,
as :mod:`tests.report.said` does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from tests.report.said import (
    Compared,
    Said,
    beside_intervals,
    blocks,
    levels,
    numbers,
    of_courses,
    of_player,
    read,
    sentences,
    squad_rows,
    template,
)  # fmt: skip

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from reports.words import Words

READERS = ("coach", "physio")
OF_TRIALS = tuple(f"trial.said.{name}" for name in ("speed_lost", "strokes_lost", "speed_gained", "strokes_gained"))
OWN_BY_READER = frozenset(
    {"flag.today", *(f"player.lead.{name}" for name in ("up", "down", "flat", "open", "past", "learning", "none"))}
)
"""What counts, names or repeats the flags that a reader may see; findings are compared by their ids."""


@dataclass(frozen=True)
class Site:
    """The pages of one built site.

    Attributes
    ----------
    today, squad : dict
        By reader.
    player : dict
        By reader and name.
    review : dict
        The physio's review sheets by the name of their file.
    trials, compare : str
    trial : dict
        By the name of its file.
    """

    today: dict[str, str]
    squad: dict[str, str]
    player: dict[tuple[str, str], str]
    review: dict[str, str]
    trials: str
    trial: dict[str, str]
    compare: str


def site_of(root: Path) -> Site:
    """The pages of a workspace."""
    site = root / "site"

    def page(path: str) -> str:
        return (site / path).read_text(encoding="utf-8")

    def pages(folder: str) -> dict[str, str]:
        return {path.name: path.read_text(encoding="utf-8") for path in sorted((site / folder).glob("*.html"))}

    people = pl.read_csv(root / "player-links.csv").select("player_id", "alias").rows()
    return Site(
        today={reader: page(f"{reader}/index.html") for reader in READERS},
        squad={reader: page(f"{reader}/squad.html") for reader in READERS},
        player={(reader, alias): page(f"{reader}/players/{one}.html") for reader in READERS for one, alias in people},
        review=pages("physio/review"),
        trials=page("coach/trials.html"),
        trial=pages("coach/trials"),
        compare=page("coach/compare.html"),
    )


def findings(page: str, words: Words, names: frozenset[str]) -> dict[str, tuple[str, str]]:
    """Id of each finding on a page to its sentence (without the name before it) and the state of its decision."""
    ranks = {words("level.alert"), words("level.notice")}
    state = template(words.texts["today.finding"])
    found, sentence, is_next = {}, "", False
    for block in blocks(page):
        if is_next:
            name, dash, rest = block.partition(" \N{EN DASH} ")
            sentence = rest if dash and name in names else block
        is_next = block in ranks
        told = state.fullmatch(block)
        if told and sentence:
            found[told["id"]], sentence = (sentence, told["state"]), ""
    return found


def _pages_with_findings(site: Site) -> Iterator[tuple[str, str, str]]:
    """Reader, place, page."""
    yield from ((reader, "Today", page) for reader, page in site.today.items())
    yield from ((reader, "player", page) for (reader, _), page in site.player.items())
    yield from (("physio", "review", page) for page in site.review.values())


def of_findings(site: Site, words: Words, told: Compared) -> None:
    """A finding says the same on every page of every reader who may see it, and what Today has stands on the player's page."""
    names = frozenset(alias for _, alias in site.player)
    seen: dict[str, list[tuple[str, str, tuple[str, str]]]] = {}
    for reader, place, page in _pages_with_findings(site):
        for flag_id, said in findings(page, words, names).items():
            seen.setdefault(flag_id, []).append((reader, place, said))
    for flag_id, places in sorted(seen.items()):
        told.check("one sentence of a finding", flag_id, holds=len({said for *_, said in places}) == 1, said=places)
        at = {(reader, place) for reader, place, _ in places}
        for reader, _ in [one for one in at if one[1] == "Today"]:
            told.check("on the player's page too", flag_id, holds=(reader, "player") in at, said=reader)


def of_physio(site: Site, words: Words, told: Compared) -> None:
    """The physio's page of a player agrees with itself, with its squad row, and with the coach's."""
    rows = squad_rows(site.squad["physio"])
    for alias in sorted(name for reader, name in site.player if reader == "physio"):
        coach, physio = (sentences(site.player[reader, alias], words) for reader in READERS)
        of_player([*physio, *of_courses(physio, words)], [], rows.get(alias, {}), f"{alias}, physio", told)
        beside_intervals(physio, f"{alias}, physio", told)
        for key in sorted(({one.key for one in coach} & {one.key for one in physio}) - OWN_BY_READER):
            both = [[said.values for said in part if said.key == key] for part in (coach, physio)]
            told.check("coach and physio", alias, holds=both[0] == both[1], said=(key, both))


def _cells(row: str) -> list[str]:
    found = re.findall(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", row, flags=re.DOTALL)
    return [" | ".join(blocks(cell.replace("<span", "<p").replace("</span>", "</p>"))) for cell in found]


def _rows(page: str) -> list[str]:
    return re.findall(r"<tr\b.*?</tr>", page, flags=re.DOTALL)


def trial_rows(page: str) -> dict[str, tuple[str, str, str]]:
    """Page of each trial to its verdict, speed and strokes as the list has them."""
    found = {}
    for row in _rows(page):
        target, cells = re.search(r'href="trials/([^"]+)"', row), _cells(row)
        if target and len(cells) == 7:
            found[target[1]] = (cells[4], cells[5], cells[6])
    return found


def of_trials(site: Site, words: Words, told: Compared) -> None:
    """The list of trials and each trial's page say the same, and no verdict stands against the intervals beside it."""
    for name, (verdict, speed, strokes) in sorted(trial_rows(site.trials).items()):
        lead = next((one for block in blocks(site.trial[name]) for one in read(block, words, OF_TRIALS)), None)
        is_settled = verdict in {words("trial.keep"), words("trial.go_back")}
        told.check("one verdict of a trial", name, holds=is_settled == (lead is not None), said=(verdict, lead))
        if lead is None:
            continue
        is_kept = lead.key.endswith("gained")
        told.check("one verdict of a trial", name, holds=is_kept == (verdict == words("trial.keep")), said=(verdict, lead))
        what = strokes if "strokes_" in lead.key else speed
        low, high = numbers(what)[-2:]
        clear = low > 0 if lead.key in {"trial.said.speed_gained", "trial.said.strokes_lost"} else high < 0
        told.check("verdict of a trial and interval", name, holds=clear, said=(lead, what))
        told.check("numbers of a trial", name, holds=_agree(lead, speed, strokes), said=(lead, speed, strokes))


def _agree(lead: Said, speed: str, strokes: str) -> bool:
    """The number in the sentence is that of the list, to the digits that both print."""
    if "strokes_" in lead.key:
        return abs(abs(lead.number("strokes")) - abs(numbers(strokes)[0])) <= 0.055
    return numbers(speed)[0] in numbers(lead.values["speed"])


def of_compare(site: Site, words: Words, told: Compared) -> None:
    """Differences are those of the numbers, what is clear leaves out 0, and the first level is that of the player's page."""
    rows = [cells for row in _rows(site.compare) if len(cells := _cells(row)) == 4]
    first_name = rows[0][1].split(" | ")[0]
    for what, first, second, apart in rows[1:]:
        if not (numbers(first) and numbers(second) and numbers(apart)):
            continue
        one, other, difference = (numbers(cell)[0] for cell in (first, second, apart))
        allowed = 0.11 if "." in first.split(" | ")[0] else 1.01
        told.check(
            "difference of the comparison", what, holds=abs(one - other - difference) < allowed, said=(first, second, apart)
        )
        called = [key for key in ("side.is_open", "side.is_clear") if read(apart, words, (key,))]
        if called:
            low, high = numbers(apart)[1:3]
            is_clear = called[0] == "side.is_clear"
            told.check("clear in the comparison", what, holds=is_clear == (low > 0 or high < 0), said=apart)
    own = [level for _, level in levels(sentences(site.player["coach", first_name], words))]
    told.check("level of the comparison", first_name, holds=own[:1] == [numbers(rows[1][1])[0]], said=(own, rows[1]))


def compared_elsewhere(site: Site, words: Words) -> Compared:
    """Every conflict of these pages."""
    told = Compared()
    of_findings(site, words, told)
    of_physio(site, words, told)
    of_trials(site, words, told)
    of_compare(site, words, told)
    return told
