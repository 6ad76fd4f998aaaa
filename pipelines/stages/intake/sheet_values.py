"""Cells of a sheet that hold no value although something stands there: errors, and formulas that nobody has computed.

The reader of sheets takes both for empty.
"""

from __future__ import annotations

import html
import io
import re
import zipfile
from functools import cache
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterator

Place = tuple[int, int]

_SHEET = re.compile(rb"<(?:\w+:)?sheet\b([^>]*)>")
_RELATION = re.compile(rb"<(?:\w+:)?Relationship\b([^>]*)>")
_ATTRIBUTE = re.compile(rb"([\w:]+)\s*=\s*(?:\"([^\"]*)\"|'([^']*)')")
_CELL = re.compile(rb"<(?:\w+:)?c\b((?:[^>\"']|\"[^\"]*\"|'[^']*')*?)(?:/>|>(.*?)</(?:\w+:)?c>)", re.DOTALL)
_VALUE = re.compile(rb"<(?:\w+:)?v\b[^>/]*>([^<]*)</")
_FORMULA = re.compile(rb"<(?:\w+:)?f\b[^>]*>([^<]*)|<(?:\w+:)?f\b[^>]*/>")
_IN_PLACE = re.compile(rb"<(?:\w+:)?is\b")
_REFERENCE = re.compile(r"([A-Z]{1,3})(\d{1,7})")


def _attributes(text: bytes) -> dict[str, str]:
    return {
        name.decode().rsplit(":", 1)[-1]: html.unescape((one or other).decode("utf-8", "replace"))
        for name, one, other in _ATTRIBUTE.findall(text)
    }


def sheet_text(data: bytes, name: str) -> bytes:
    """The XML of the sheet of that name; empty where the workbook does not say which part it is."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        parts = {part.lower(): part for part in book.namelist()}
        if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= parts.keys():
            return b""
        sheets = [_attributes(tag) for tag in _SHEET.findall(book.read(parts["xl/workbook.xml"]))]
        relations = [_attributes(tag) for tag in _RELATION.findall(book.read(parts["xl/_rels/workbook.xml.rels"]))]
        targets = {one.get("Id"): one.get("Target", "") for one in relations}
        target = next((targets.get(one.get("id"), "") for one in sheets if one.get("name") == name), "")
        part = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
        return book.read(parts[part.lower()]) if part.lower() in parts else b""


@cache
def column_number(letters: bytes) -> int:
    """The number of a column by its letters: A is 1, AA 27."""
    number = 0
    for letter in letters:
        number = 26 * number + letter - 64
    return number


def _place(reference: str) -> Place | None:
    found = _REFERENCE.fullmatch(reference)
    return (int(found[2]) - 1, column_number(found[1].encode()) - 1) if found else None


def _cells(text: bytes) -> Iterator[tuple[str, str, bytes, bytes]]:
    """Reference, type, stored value and what lies in it, cell by cell."""
    for head, inner in _CELL.findall(text):
        named = _attributes(head)
        value = _VALUE.search(inner)
        yield named.get("r", ""), named.get("t", ""), value[1] if value else b"", inner


def uncomputed(text: bytes) -> list[str]:
    """Formulas without a stored value, as ``B7 =A7*2``; a formula whose value is an empty text has one.

    Parameters
    ----------
    text : bytes
        The XML of a sheet.
    """
    if b"<f" not in text and b":f" not in text:
        return []
    found = []
    for reference, kind, value, inner in _cells(text):
        formula = _FORMULA.search(inner)
        if formula and not value and kind not in {"str", "inlineStr"}:
            words = html.unescape((formula[1] or b"").decode("utf-8", "replace"))
            found.append(f"{reference} ={words}".rstrip("= "))
    return found


def with_errors(frame: pl.DataFrame, text: bytes) -> pl.DataFrame:
    """The cells of a sheet with its errors as text, ``#DIV/0!``; the reader leaves them empty.

    Parameters
    ----------
    frame : polars.DataFrame
        Text; its first cell is the first row and the first column in which anything stands.
    text : bytes
        The XML of the sheet.
    """
    if b't="e"' not in text and b"t='e'" not in text:
        return frame
    filled = [
        (place, kind, value.decode("utf-8", "replace"))
        for reference, kind, value, inner in _cells(text)
        if (value or _IN_PLACE.search(inner)) and (place := _place(reference))
    ]
    top, left = (min(place[axis] for place, _, _ in filled) for axis in (0, 1)) if filled else (0, 0)
    names = frame.columns
    errors = [(place[0] - top, names[place[1] - left], value) for place, kind, value in filled if kind == "e"]
    for name in dict.fromkeys(name for _, name, _ in errors):
        rows, values = zip(*((row, value) for row, column, value in errors if column == name and row < frame.height), strict=True)
        frame = frame.with_columns(frame[name].scatter(rows, values))
    return frame
