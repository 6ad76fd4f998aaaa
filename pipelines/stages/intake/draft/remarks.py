"""Remarks at headers: which side is positive, on which scale, in which order a day is written; with or without brackets."""

from __future__ import annotations

import re

from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import end_of_scale, listed_words, side_of, unit_of

POSITIVE = r"(?:positive|positiv|positif|positivo|positiva|positief|pos|plus|più|mais|más|\+)"
NEGATIVE = r"(?:negative|negativ|négatif|negatif|negativo|negativa|negatief|neg|minus|moins|meno|menos)"
_SPAN_WORDS = r"(?:-|–|—|~|〜|～|to|bis|à|a|al|tot|til|till|até|から)"
_SCALE = re.compile(rf"(?<![\w.])(\d{{1,3}}\s*{_SPAN_WORDS}\s*\d{{1,3}})(?!\d)((?:\s+[^\W\d_]+)?)")
_ENDS = re.compile(rf",?\s+(\d{{1,3}})\s*=\s*([^=]+?)\s*(?:\.\.\.|…|[,;]|{_SPAN_WORDS})\s*(\d{{1,3}})\s*=\s*([^=]+)$")
_LEGEND = re.compile(r"(?<!\w)\d{1,3}\s+[^\W\d_]+")
_ORDER = re.compile(r"(?<![^\W\d_])([dtjgymåa])\1*\W+([dtjgymåa])\2*(?:\W+([dtjgymåa])\3*)?(?![^\W\d_])", re.IGNORECASE)
_LETTERS = re.compile(r"[^\W\d_]{1,2}\s*/\s*[^\W\d_]{1,2}")


def remarked(said: str) -> str:
    """A header without brackets, its remarks set in them: ``offline m right positive`` -> ``offline m (right +)``."""
    if re.search(r"[\[(（【]", said):
        return said
    behind = re.fullmatch(r"(.+?)[,\s]\s*([^\s,]+)[,\s]+([^\W\d_]+)", said)
    if behind and unit_of(behind[2]) and bare(behind[3]) in listed_words("up"):  # launch, deg up
        return f"{behind[1].strip(' ,')} ({behind[2]}, {behind[3]})"
    form = re.fullmatch(r"(.+?),?\s+(h{1,2}:m{1,2}(?::s{1,2})?)", said, re.IGNORECASE)
    if form:
        return f"{form[1]} ({form[2]})"
    ends = _ENDS.search(said)
    if ends:  # stiff neck, 0 = none ... 10 = worst
        return f"{said[: ends.start()]} ({ends[1]} = {ends[2]}, {ends[3]} = {ends[4].strip()})"
    said, sign = _sign(said)
    said, scale = _scale(said)
    return f"{said}{scale}{sign}".strip()


def _sign(said: str) -> tuple[str, str]:
    for pattern, side in ((rf"\s+([^\W\d_]+)\s+{POSITIVE}\s*$", 1), (rf"\s+{POSITIVE}\s+([^\W\d_]+)\s*$", 1)):
        match = re.search(pattern, said, re.IGNORECASE)
        if match and side_of(match[side]):
            return said[: match.start()], f" ({match[side]} +)"
    return said, ""


def _scale(said: str) -> tuple[str, str]:
    """The header without the scale that stands in it, and the scale in brackets."""
    match = _SCALE.search(said)
    if match:
        end = match[2] if end_of_scale(match[2]) else ""
        rest = said[: match.start()] + " " + said[match.end() - (0 if end else len(match[2])) :]
        return " ".join(rest.split()), f" ({match[1]}{end})"
    legend = [found[0] for found in _LEGEND.finditer(said) if end_of_scale(re.sub(r"\d+", "", found[0]))]
    if len(legend) < 2:
        return said, ""
    for part in legend:
        said = said.replace(part, " ")
    told = ", ".join(re.sub(r"(\d+)\s+", r"\1 = ", part) for part in legend)
    return " ".join(said.split()), f" ({told})"


def day_order(text: str) -> str:
    """``dmy``, ``mdy`` or ``ymd`` where a text writes it down, in any of our languages (TT.MM.JJJJ); empty where it does not."""
    for match in _ORDER.finditer(text):
        letters = "".join(part[0].lower() for part in match.groups() if part)
        if letters.count("m") != 1:
            continue
        before, after = letters.split("m")
        if before in {"d", "t", "j", "g"} and after in {"", "y", "j", "a", "å"}:
            return "dmy"
        if not before and after[:1] in {"d", "t", "j", "g"} and len(after) == 2:
            return "mdy"
        if before in {"y", "j", "a", "å"} and after in {"d", "t", "j", "g"}:
            return "ymd"
    return ""


def is_remark(part: str) -> bool:
    """Whether a remark in brackets changes nothing: letters to choose from, an order of days, up as positive."""
    if day_order(part) or end_of_scale(part) or part.strip() in {"+", "-", "+/-", "±"}:
        return True
    if _LETTERS.fullmatch(part.strip()) or re.fullmatch(r"\d{1,3}\s*[-–—~〜～]\s*\d{1,3}", part.strip()):
        return True
    if re.fullmatch(r"h{1,2}\W?m{1,2}(?:\W?s{1,2})?", part.strip(), re.IGNORECASE):
        return True
    rest = " ".join(word for word in part.split() if not unit_of(word))
    if rest != part and (not rest or set(bare(rest).split()) <= listed_words("up")):
        return True
    up = re.sub(rf"{POSITIVE}|=|is", " ", part, flags=re.IGNORECASE)
    if re.search(r"\+|plus|pos", part, re.IGNORECASE) and bare(up) and set(bare(up).split()) <= listed_words("up"):
        return True
    return bool(bare(part)) and bare(part) in listed_words("remark")
