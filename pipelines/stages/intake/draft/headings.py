"""What one header of an unknown file says: quantity, unit, region and side of the body, and what of it is not understood."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache, partial
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft.body_parts import part_of
from pipelines.stages.intake.draft.layout import is_dotted
from pipelines.stages.intake.draft.letters import bare, without_brackets
from pipelines.stages.intake.draft.lexicon import (
    Meaning,
    brackets,
    end_of_scale,
    listed_words,
    meaning_of,
    split_unit,
    telling,
    unit_of,
    value_words,
    words,
)
from pipelines.stages.intake.draft.remarks import is_remark, remarked
from pipelines.stages.intake.draft.targets import target_of
from schemas.files import KINDS
from schemas.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.stages.intake.draft.body_parts import BodyPart
    from pipelines.stages.intake.draft.layout import Layout

_OWN = {name for kind in KINDS.values() for name in kind.names}
_RATED = re.compile(r"\d{1,3}\s*(?:-|–|—|~|〜|～|/|to|bis|à|a|al|tot|til|till|até|=|:)\s*\S|^/?\s*\d{1,3}$|^[#%]$")


_ENDINGS = frozenset({"mps", "m", "deg", "rpm", "mm", "c", "hpa", "pct", "h", "cm", "min"})
"""How names of ours end that say their unit."""
_LISTED = ("sex", "handed", "onset")
"""Columns of words whose header may be the list of these words."""
NEAR = {
    "strong_hand": "somebody may play from the other side than that of the stronger hand",
    "backspin": "backspin is a part of total spin",
    "back_on": "the first day back is no day away any more",
    "distance": "it may be the distance with roll",
    "loft": "it may be the loft that is stamped on the club",
    "consent": "what is agreed to is not said",
}
"""What is near a column of ours, and why it is not the same."""
SHARED = "several groups have a column of this name"
SAYS_MORE = "the header says more than the name of the quantity"
BY_VALUES = "what stands in it says so, its name does not"
PLANNED = "it says what was planned or what was done, and the other is meant"
SAYS_NEAR = "the header is no name of the quantity by itself"
_EPOCH = re.compile(r"epoch|unix|1970", re.IGNORECASE)
_OF_EPOCHS = frozenset({"t", "ts", "at", "epoch", "unix", "ms", "s", "sec", "seconds", "utc", "1970", "since", "time"})
_BEGINS = re.compile(r"start|begin|inicio|inizio|début|debut|início|開始", re.IGNORECASE)


def _tells_where(cut: str) -> bool:
    """Whether what stands behind the name of a quantity is a place or a time (``at 100 yd``), no number of it and no scale."""
    return (
        bool(re.match(r"\d+(?:[.,]\d+)?\s*[^\W\d_]", cut))
        and not _RATED.search(cut)
        and not end_of_scale(re.sub(r"\d+", "", cut))
    )


def says_more(left: tuple[str, ...]) -> bool:
    """Whether a header has words beside a quantity: any may make another of it, a gust of wind or the target of a carry."""
    return bool(left)


@dataclass(frozen=True)
class Heading:
    """One header, understood as far as it goes.

    Attributes
    ----------
    header : str
        As the mapping names it.
    text : str
        As a person reads it, with what stands below it in a row of units.
    unit : str
        As it is written; empty when it is not.
    meaning : Meaning
    doubt : str
        Why the header is not beyond doubt; empty when it is.
    native : bool
        It is the name of a column of ours.
    part : BodyPart or None
    is_reversed : bool or None
        Whether left is positive, where somebody has said it.
    scale : tuple of float
        The ends of the scale, where somebody has said them.
    words : dict
        What words of the column mean, where somebody has said it.
    alone : tuple of str
        What it means without the name of its group, for a kind of file that has no column for it with that.
    """

    header: str
    text: str
    unit: str
    meaning: Meaning
    doubt: str
    native: bool
    part: BodyPart | None
    is_reversed: bool | None = None
    scale: tuple[float, ...] = ()
    words: dict[str, str] = field(default_factory=dict)
    alone: tuple[str, ...] = ()


def _without_groups(said: str, own: int = 1) -> Meaning:
    """The meaning of a header, names of groups in front of it let go where it needs that; its ``own`` last words stay."""
    best, near = meaning_of(said), None
    parts = said.split()
    while (best.left or best.loose) and len(parts) > own and bare(parts[0]) not in listed_words("changing"):
        parts = parts[1:]
        shorter = meaning_of(" ".join(parts))
        if shorter.concepts and not shorter.left and not shorter.loose:
            return shorter
        if near is None and shorter.concepts and not shorter.left and best.left:
            near = shorter
    return near or best


def _shared(layout: Layout, header: str, *, whole: bool) -> bool:
    """Whether another header ends as this one does: with all of it, or with what stands behind the name of its group."""
    said = layout.said(header)
    ending = f" {said if whole else said.split(' ', 1)[-1]}"
    return sum(f" {layout.said(other)}".endswith(ending) for other in layout.header) > 1


def heading(layout: Layout, header: str) -> Heading:
    """What one header says."""
    said = re.sub(r" \(\d+\)$", "", layout.said(header))
    below = _below(layout, header)
    native = said.strip().lower()
    if native in _OWN:
        text = f"{said} {below}".strip()
        return Heading(header, text, unit_of(below) or _own_unit(native), Meaning((native,), ()), "", native=True, part=None)
    said = remarked(re.sub(r"\b([nN])\.?\s?[º°](?=\W|$)", r"\1o", _spaced(said)))
    is_grouped = layout.header_lines > 1 or is_dotted(header)
    own = len(_plain(layout.name_alone(header)).split())
    means = partial(_without_groups, own=own) if is_grouped else meaning_of
    name, unit, behind = _name_and_unit(said)
    name, unit, meaning = (name, unit, means(name)) if unit else _with_short_unit(name, means(name), own)
    meaning = _with_brackets(name, said, _of_whole(said, _by_unit(name, unit, said, meaning, means)))
    meaning = _rated_sleep(said, unit, meaning)
    alone = _alone(layout, header) if is_grouped else ()
    if meaning.concepts == ("carry_m",) and alone == ("distance",):  # its group does not say that it ends where the ball lands
        meaning = Meaning(alone, meaning.left)
    doubts = [SHARED] if is_grouped and _shared(layout, header, whole=not meaning_of(name).left) else []
    doubts += _doubts(layout, header, meaning, behind)
    return Heading(
        header,
        f"{said} {below}".strip(),
        unit or unit_of(re.split(r"[,;(]", below.strip("()"))[0]),
        meaning,
        "; ".join(doubts),
        native=False,
        part=part_of(said, name),
        alone=alone,
    )


def _below(layout: Layout, header: str) -> str:
    """What stands below a header in a row of units; a unit and a remark on it in brackets: ``(deg, right +)``."""
    below = layout.unit_cell(header)
    return f"({below})" if re.search(r"[,;]", below) else below


def _name_and_unit(said: str) -> tuple[str, str, str]:
    """The name in a header without the end of a scale or a number, its unit (empty: none), and what stands behind the name."""
    whole, unit = split_unit(re.sub(r"\b(k?m) ([hs])$", r"\1/\2", said))
    scale = r"\s*/\s*\d+\s*$" if brackets(whole) else r"(?<=[^\W\d])\s*/?\s*/?\d.*$"
    name = re.sub(scale, "", whole)
    return name, unit, whole[len(name) :].strip(" /:,.")


def _by_unit(name: str, unit: str, said: str, meaning: Meaning, means: Callable[[str], Meaning]) -> Meaning:
    """The meaning that a unit bears out: ``Clubhead mph`` is a speed; what was taken for a unit may be part of the name."""
    if not unit:
        return meaning
    if UNITS[unit].quantity == "speed":
        of_speed = means(f"{name} speed")
        meaning = of_speed if of_speed.concepts and not of_speed.left else meaning
    if not meaning.concepts:
        meaning = means(said)
    if meaning.left or meaning.loose or not _measures_as(unit, meaning):  # Work done / Minutes
        of_all = means(said)
        meaning = of_all if of_all.concepts and not of_all.left and not of_all.loose else meaning
    return meaning


def _of_whole(said: str, meaning: Meaning) -> Meaning:
    """The meaning by all that a header says: a time since 1970, or a list of the words that stand below it."""
    meaning = _of_epoch(said, meaning) if _EPOCH.search(said) else meaning
    return _of_alternatives(said) or meaning if not meaning.concepts or meaning.left else meaning


def _rated_sleep(said: str, unit: str, meaning: Meaning) -> Meaning:
    """Sleep with a scale and no unit, ``sleep (1 to 5)``, is rated, and no time."""
    is_rated = meaning.concepts == ("sleep_h",) and not unit and any(re.search(r"\d\D+\d", part) for part in brackets(said))
    return Meaning(("sleep_quality",), meaning.left) if is_rated else meaning


def _doubts(layout: Layout, header: str, meaning: Meaning, cut: str) -> list[str]:
    """Why a header is not beyond doubt, by its words."""
    doubts = [SAYS_MORE] if says_more(meaning.left) or _tells_where(cut) else []
    doubts += [SAYS_NEAR] if meaning.loose else []
    doubts += [doubt for concept, doubt in NEAR.items() if concept in meaning.concepts]
    if re.search(r" \(\d+\)$", header) and sum(1 for other in layout.header if other.startswith(f"{header[:-4]} (")) > 1:
        doubts.append("a header of this name stands twice")
    return doubts


def _own_unit(name: str) -> str:
    """The unit that a name of ours ends with; empty when it ends with none."""
    quantity = next(kind.column(name).field for kind in KINDS.values() if name in kind.names)
    return quantity.unit if "_" in name and name.rpartition("_")[2] in _ENDINGS else ""


def _of_alternatives(said: str) -> Meaning | None:
    """The meaning of a header that only lists what stands below it: ``M/F``."""
    plain = re.sub(r"[\[(（].*?[\])）]", " ", said).strip()
    before, _, listed = plain.rpartition(" ") if "/" in plain.rpartition(" ")[2] else ("", "", plain)
    parts = [part.strip(" -") for part in listed.split("/")]
    if len(parts) < 2 or not all(parts):
        return None
    concepts = tuple(name for name in _LISTED if value_words(name, parts)[1])
    agrees = not before or (meaning_of(before).concepts == concepts and not meaning_of(before).left)
    return Meaning(concepts, ()) if len(concepts) == 1 and agrees else None


def _of_epoch(said: str, meaning: Meaning) -> Meaning:
    """A time in seconds since 1970, with what the header says more than that."""
    strange = () if not meaning.concepts else tuple(word for word in meaning.left if word not in _OF_EPOCHS)
    return Meaning(("start" if _BEGINS.search(said) else "timestamp",), strange)


def _alone(layout: Layout, header: str) -> tuple[str, ...]:
    """What a header means without the name of its group."""
    meaning = meaning_of(_plain(layout.name_alone(header)))
    if header in layout.alone:
        return ()
    return meaning.concepts if not meaning.left and not meaning.loose else ()


def _plain(name: str) -> str:
    """A name without its unit, as words."""
    return without_brackets(split_unit(remarked(_spaced(name)))[0]).strip()


def _with_brackets(name: str, said: str, meaning: Meaning) -> Meaning:
    """The meaning with what stands in brackets, where that makes another of it: ``launch (left, right)``, ``spin (back)``."""
    plain = without_brackets(name)
    for part in (part for whole in brackets(said) for part in re.split(r"\s*[,;、]\s*", whole)):
        if part and not unit_of(part) and not _RATED.search(part) and not is_remark(part) and not re.search(r"[+\-−\d]", part):
            more = meaning_of(f"{plain} {part}")
            if more.concepts and not more.left and more.concepts != meaning.concepts:
                return more
    return meaning


def _spaced(said: str) -> str:
    """Words that are written in one, ``ballSpeedMph`` or ``ball_speed_mph``, with blanks between them."""
    parts = [
        word if unit_of(word) else re.sub(r"(?<=[^\W\d_A-Z])(?=[A-Z])", " ", word) for word in said.replace("_", " ").split(" ")
    ]
    return " ".join(parts)


@cache
def _measures() -> dict[str, frozenset[str]]:
    """What each word of the list measures, as units do: speed, time, temperature."""
    found: dict[str, set[str]] = {}
    for concept in words()["header"]:
        for kind in KINDS:
            target = target_of(concept, kind)
            unit = KINDS[kind].column(target).field.unit if target in KINDS[kind].names else ""
            if unit:
                found.setdefault(concept, set()).add(UNITS[unit].quantity)
    return {concept: frozenset(measured) for concept, measured in found.items()}


def _measures_as(unit: str, meaning: Meaning) -> bool:
    """Whether a unit is one of what a header means."""
    return any(UNITS[unit].quantity in _measures().get(concept, frozenset()) for concept in meaning.concepts)


def _with_short_unit(name: str, meaning: Meaning, own: int = 1) -> tuple[str, str, Meaning]:
    """A last word of one or two letters is the unit of what stands before it, where it measures the same: ``temp c``."""
    rest, _, last = name.strip().rpartition(" ")
    if last.lower() in {"ms", "s", "utc", "iso"} and set(_without_groups(rest, own - 1).concepts) & {
        "timestamp",
        "start",
        "time",
    }:
        return rest, "", _without_groups(rest, own - 1)
    unit = unit_of(last) if rest and len(last) <= 2 else ""
    if unit:
        before = _without_groups(rest, own - 1)
        if len(before.concepts) == 1 and UNITS[unit].quantity in _measures().get(before.concepts[0], frozenset()):
            return rest, unit, before
    return name, "", meaning


def strange_brackets(heading_text: str) -> list[str]:
    """What stands in brackets and is neither a unit, nor a scale, nor a remark on one."""
    name = without_brackets(heading_text)
    name = name if meaning_of(name).concepts and not meaning_of(name).left else " ".join(name.split()[1:]) or name
    parts = [
        part
        for whole in brackets(heading_text)
        for part in ([whole] if _RATED.search(whole) else re.split(r"\s*[,;、]\s*", whole))
    ]
    return [
        part
        for part in parts
        if part
        and not unit_of(part)
        and not _RATED.search(part)
        and telling(part)
        and not is_remark(part)
        and not _same(name, part)
    ]


def _same(name: str, part: str) -> bool:
    """Whether a remark only says the name of the quantity in other words, or more of it."""
    plain, more = meaning_of(name), meaning_of(f"{name} {part}")
    return bool(plain.concepts) and (
        (more.concepts, more.left) == (plain.concepts, plain.left)
        or (plain.left == () and (meaning_of(part).concepts, meaning_of(part).left) == (plain.concepts, ()))
    )
