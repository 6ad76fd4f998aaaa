"""Files without the rows and names of people who were erased. Text keeps its line numbers: a row leaves an empty line."""

from __future__ import annotations

import codecs
import csv
import gzip
import io
import json
import re
import tomllib
import zipfile
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING

import polars as pl

from schemas.spreadsheet import told_text

if TYPE_CHECKING:
    from pipelines.stages.forgotten import Forgotten

ID_COLUMNS = ("player_id", "session_id", "trial_id", "flag_id")
_SEPARATORS = (",", ";", "\t", "|")
_LARGEST_UNPACKED = 1_000_000_000


@dataclass(frozen=True)
class Cleaned:
    """What is left of a file.

    Attributes
    ----------
    data : bytes
    n_lines, n_names : int
        Lines that were about somebody who was erased; names that were taken out of other lines.
    is_unreached : bool
        Somebody is named in it, and this format cannot be rewritten.
    """

    data: bytes
    n_lines: int = 0
    n_names: int = 0
    is_unreached: bool = False

    @property
    def is_changed(self) -> bool:
        """Whether anything was taken out."""
        return bool(self.n_lines or self.n_names)


def cleaned(name: str, data: bytes, forgotten: Forgotten) -> Cleaned:
    """A file without those who were erased.

    Parameters
    ----------
    name : str
        Its name: the last ending tells the format.
    data : bytes
    forgotten : Forgotten
    """
    suffix = PurePath(name).suffix.lower()
    if suffix == ".gz":
        return _unzipped(name, data, forgotten)
    if suffix == ".zip":
        return _each_entry(data, forgotten)
    if suffix == ".parquet":
        return _table(data, forgotten)
    if suffix == ".xlsx":
        return Cleaned(data, is_unreached=_sheet_names(data, forgotten))
    if suffix == ".toml":
        return _settings(data, forgotten)
    return _text(data, forgotten)


def _settings(data: bytes, forgotten: Forgotten) -> Cleaned:
    """A mapping or a list of names: lines that name somebody go whole, as long as what is left can still be read."""
    text = data.decode("utf-8", "surrogateescape")
    if not forgotten.may_be_in(text):
        return Cleaned(data)
    lines = text.split("\n")
    kept = ["" if forgotten.spans(line) else line for line in lines]
    n = sum(before != after for before, after in zip(lines, kept, strict=True))
    try:
        tomllib.loads("\n".join(kept))
    except (tomllib.TOMLDecodeError, ValueError):
        return Cleaned(data, is_unreached=True)
    return Cleaned("\n".join(kept).encode("utf-8", "surrogateescape"), n) if n else Cleaned(data)


def _text(data: bytes, forgotten: Forgotten) -> Cleaned:
    encoding = _encoding(data)
    text = data.decode(encoding)
    lines, n_lines, n_names = _without(text, forgotten)
    return Cleaned("".join(lines).encode(encoding), n_lines, n_names) if n_lines or n_names else Cleaned(data)


def _encoding(data: bytes) -> str:
    """An encoding in which the bytes come back the same."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16-le" if data.startswith(codecs.BOM_UTF16_LE) else "utf-16-be"
        return encoding if len(data) % 2 == 0 else "latin-1"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _without(text: str, forgotten: Forgotten) -> tuple[list[str], int, int]:
    """Lines as they stay, how many were taken out, and how many names were taken out of others."""
    rows = _whole_rows(text)
    where = _id_places(rows)
    names = forgotten.may_be_in(text)
    kept: list[str] = []
    n_lines = n_names = 0
    for row in rows:
        if _is_theirs(row, where, forgotten, names=names):
            n_lines += 1
            kept.append("".join(sign for sign in row if sign in "\r\n"))
            continue
        n = len(forgotten.spans(row)) if names else 0
        n_names += n
        kept.append(forgotten.masked(row) if n else row)
    return kept, n_lines, n_names


def _whole_rows(text: str) -> list[str]:
    """Lines with their ends; a quoted cell that reaches over several stays with its row."""
    end = "\n" if "\n" in text or "\r" not in text else "\r"
    lines = re.findall(f"[^{end}]*{end}|[^{end}]+", text)
    if '"' not in text:
        return lines
    rows: list[str] = []
    is_open = False
    for line in lines:
        rows[-1:] = [rows[-1] + line] if is_open else [*rows[-1:], line]
        is_open ^= line.count('"') % 2 == 1 and not line.lstrip().startswith("{")
    return rows


def _id_places(rows: list[str]) -> tuple[str, tuple[int, ...]]:
    """Separator, and which cells hold ids, when the file has a header of ours; no cells otherwise."""
    head = next((row for row in rows if row.strip()), "").lstrip("\ufeff").strip()
    for separator in _SEPARATORS:
        cells = [cell.strip().strip('"').lower() for cell in head.split(separator)]
        places = tuple(at for at, cell in enumerate(cells) if cell in ID_COLUMNS)
        if places:
            return separator, places
    return "", ()


def _is_theirs(row: str, where: tuple[str, tuple[int, ...]], forgotten: Forgotten, *, names: bool) -> bool:
    separator, places = where
    if places:
        cells = _cells(row, separator)
        return any(forgotten.has_id(cells[at]) for at in places if at < len(cells))
    if row.lstrip().startswith("{"):
        return _is_their_object(row, forgotten)
    return names and any(_is_a_cell(row, start, end) for start, end in forgotten.spans(row))


def _cells(row: str, separator: str) -> list[str]:
    return [told_text(cell) for cell in _split(row, separator)]


def _split(row: str, separator: str) -> list[str]:
    if '"' not in row:
        return row.strip("\r\n").split(separator)
    try:
        return next(csv.reader(io.StringIO(row), delimiter=separator), [])
    except csv.Error:
        return row.split(separator)


def _is_their_object(row: str, forgotten: Forgotten) -> bool:
    try:
        told = json.loads(row)
    except ValueError:
        return bool(forgotten.spans(row))
    return isinstance(told, dict) and any(forgotten.has_id(str(told[name])) for name in ID_COLUMNS if name in told)


def _is_a_cell(row: str, start: int, end: int) -> bool:
    """Whether what stands there fills a cell: then the row is about the person, otherwise the name is only mentioned."""
    before, after = row[:start].rstrip(" \"'"), row[end:].lstrip(" \"'")
    is_separated = any(sign in row for sign in _SEPARATORS)
    return is_separated and (not before or before[-1] in _SEPARATORS) and (not after.strip() or after[0] in _SEPARATORS)


def _unzipped(name: str, data: bytes, forgotten: Forgotten) -> Cleaned:
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as file:
            inside = file.read(_LARGEST_UNPACKED)
    except (OSError, EOFError, ValueError):
        return Cleaned(data)
    found = cleaned(PurePath(name).stem, inside, forgotten)
    kept = gzip.compress(found.data, mtime=0) if found.is_changed else data
    return Cleaned(kept, found.n_lines, found.n_names, found.is_unreached)


def _each_entry(data: bytes, forgotten: Forgotten) -> Cleaned:
    out = io.BytesIO()
    n_lines = n_names = 0
    is_unreached = False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as before, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as after:
            if sum(entry.file_size for entry in before.infolist()) > _LARGEST_UNPACKED:
                return Cleaned(data)
            for entry in before.infolist():
                found = cleaned(entry.filename, before.read(entry), forgotten)
                name = forgotten.masked(entry.filename, loosely=True)
                n_lines, n_names = n_lines + found.n_lines, n_names + found.n_names + (name != entry.filename)
                is_unreached |= found.is_unreached
                after.writestr(name, found.data)
    except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError, EOFError):
        return Cleaned(data)  # no archive that anybody can open
    return Cleaned(out.getvalue() if n_lines or n_names else data, n_lines, n_names, is_unreached)


def _table(data: bytes, forgotten: Forgotten) -> Cleaned:
    try:
        rows = pl.read_parquet(io.BytesIO(data))
    except (pl.exceptions.PolarsError, OSError):
        return Cleaned(data)
    theirs = pl.lit(value=False)
    for name in (name for name in ID_COLUMNS if name in rows.columns):
        ids = rows[name].cast(pl.String).drop_nulls().unique().to_list()
        theirs |= pl.col(name).cast(pl.String).is_in(forgotten.found_in(ids))
    kept = rows.filter(~theirs.fill_null(value=False))
    texts = [name for name, kind in kept.schema.items() if kind == pl.String and name not in ID_COLUMNS]
    masks = {name: {one: forgotten.masked(one) for one in kept[name].drop_nulls().unique().to_list()} for name in texts}
    n_names = sum(before != after for mask in masks.values() for before, after in mask.items())
    if rows.height == kept.height and not n_names:
        return Cleaned(data)
    out = io.BytesIO()
    kept.with_columns(pl.col(name).replace(mask) for name, mask in masks.items() if mask).write_parquet(out)
    return Cleaned(out.getvalue(), rows.height - kept.height, n_names)


def _sheet_names(data: bytes, forgotten: Forgotten) -> bool:
    """Whether a workbook names somebody: its texts stand in XML inside an archive."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            texts = [book.read(entry).decode("utf-8", "replace") for entry in book.namelist() if entry.endswith(".xml")]
    except (zipfile.BadZipFile, OSError, RuntimeError):
        return False
    return any(forgotten.spans(text) for text in texts if forgotten.may_be_in(text))
