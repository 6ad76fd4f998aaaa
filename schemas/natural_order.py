"""The order in which a person looks for a name: letters without regard to case or accent, numbers by their size.

``Group 2`` stands before ``Group 10``, ``Ä`` beside ``A`` and ``ß`` beside ``ss`` (as German dictionaries have it, and English
readers expect). Names that are alike but for case and accents stand in the order of their code points.
"""

from __future__ import annotations

import re
import unicodedata

import polars as pl

_WIDTH = 20
_NUMBER = re.compile(r"\d+")


def natural_key(name: str) -> str:
    """What a name sorts by: folded, its numbers filled up with zeros, and the name itself behind it."""
    bare = "".join(letter for letter in unicodedata.normalize("NFKD", name) if not unicodedata.combining(letter))
    return _NUMBER.sub(lambda found: found[0].zfill(_WIDTH), bare.casefold()) + "\0" + name


def natural(column: str) -> pl.Expr:
    """The same of a column of text, to sort rows by; missing names stay missing."""
    return pl.col(column).map_elements(natural_key, return_dtype=pl.String)
