"""Texts as they are compared: without case, accents and signs."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache


def without_brackets(text: str) -> str:
    """The text with a blank for what stands in brackets, and for them."""
    return re.sub(r"[\[(（【].*?[\])）】]", " ", text)


@lru_cache(maxsize=4096)
def bare(text: str) -> str:
    """Lower case without accents and signs, words apart; digits stay. What stands in brackets is left out."""
    text = without_brackets(text)
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text).replace("ß", "ss").lower().replace("ø", "o").replace("æ", "ae")
    plain = "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))
    for double, single in (("ae", "a"), ("oe", "o"), ("ue", "u")):
        plain = plain.replace(double, single)
    return " ".join(re.findall(r"[^\W\d_]+|\d+", plain))
