"""Which region and side of the body a header or a cell names."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipelines.stages.intake.draft.letters import bare, without_brackets
from pipelines.stages.intake.draft.lexicon import brackets, contained
from schemas.regions import REGIONS

_JAPANESE_PARTS = re.compile(
    "(股関節|腰関節|手首|上背部|背中|背部|腰部|頸部|首|肩|肘|ひじ|膝|ひざ|腰|右|左|こわばり|こり|張り|硬さ|痛み)"
)
_SIDED_COMPOUND = re.compile(
    r"(?i)\b(linke[rs]?|rechte[rs]?|links|rechts|vänster|höger|venstre|højre|vanster|hoger|hojre|left|right)(?=[^\W\d_]{3})"
)
_LONGEST_SHORT = 4


@dataclass(frozen=True)
class BodyPart:
    """A region of the body in a header or a cell.

    Attributes
    ----------
    region : str
        ``neck``, ``knee`` and so on.
    side : str
        left, right, lead, trail, or empty.
    left_over : tuple of str
        Words that say something else.
    """

    region: str
    side: str
    left_over: tuple[str, ...]

    @property
    def word(self) -> str:
        """Our word for it, with left and right as they stand; empty when it has none."""
        if f"lead_{self.region}" in REGIONS:
            return f"{self.side}_{self.region}" if self.side else ""
        return self.region if not self.side else ""


def _short_ends(text: str) -> list[str]:
    """The first and the last word of a text where they are short, as shortened words for a side are: ``izq``, ``dx``."""
    said = re.findall(r"[^\W\d_]+", without_brackets(text))
    return [word for word in (said[-1:] + said[:1] if len(said) > 1 else ()) if 2 <= len(word) <= _LONGEST_SHORT]


def side_by_letter(text: str) -> tuple[str, str]:
    """The side of the body that a letter or a short word in a text names, and that: D is *droite* here, and idle elsewhere."""
    for part in (*brackets(text), *_short_ends(text)):
        side, left = contained(part, "values", "side")
        if side and not left:
            return side, bare(part)
    plain = without_brackets(text)
    letter = re.search(r"[\s_.,/-]([^\W\d_])\.?\s*$|^\s*([^\W\d_])[\s_.,/-]", plain)
    letter = letter or re.search(r"(?:^|[\s_])([^\W\d_])()[\s_.]+[^\W\d_]+\s*$", plain)
    if not letter:
        return "", ""
    side, _ = contained(letter[1] or letter[2], "values", "side")
    return side, bare(letter[1] or letter[2])


def body_part(text: str) -> BodyPart | None:
    """The region of the body that a text names, or None."""
    spaced = _JAPANESE_PARTS.sub(r" \1 ", text).replace("の", " ")
    spaced = _SIDED_COMPOUND.sub(r"\1 ", spaced)
    region, left = contained(spaced, "values", "region")
    if not region or region == "other":
        return None
    side, letter = side_by_letter(spaced)
    left = tuple(word for word in left if word != letter) if side else left
    if side and f"lead_{region}" not in REGIONS:  # no side can be meant: "i" is a word here
        side = ""
    if left and not side:
        side, left = contained(" ".join(left), "values", "side")
    return BodyPart(region, "" if side == "both" else side, left)


def part_of(said: str, name: str) -> BodyPart | None:
    """The region of the body in a header; a letter for its side may have been taken for a unit: H is *höger* here, no hour."""
    part = body_part(said)
    return part if part is not None and part.side else body_part(name)
