"""A draft as the text of a mapping, with a remark at everything that is unsure."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pipelines.stages.intake.draft.captures import Captures
    from pipelines.stages.intake.draft.drafted import DraftedColumn, Drafting
    from pipelines.stages.intake.draft.wide import LongDraft


def _text(value: str) -> str:
    """A TOML text."""
    return json.dumps(value, ensure_ascii=False)


def _texts(values: Iterable[str]) -> str:
    listed = [_text(value) for value in values]
    return listed[0] if len(listed) == 1 else f"[{', '.join(listed)}]"


def _list(values: Iterable[str]) -> str:
    return f"[{', '.join(map(_text, values))}]"


def _pattern(value: str) -> str:
    """A TOML text without escapes, as patterns read best."""
    return f"'{value}'" if "'" not in value else _text(value)


def _top(draft: Drafting, left_out: list[str], unknown: list[str]) -> list[str]:
    layout, (decimal, thousands) = draft.layout, draft.signs
    lines = [f"kind = {_text(draft.kind)}"]
    lines += [f"delimiter = {_text(layout.delimiter)}"] if layout.delimiter != "," else []
    lines += [f"encoding = {_text(layout.encoding)}"] if layout.encoding else []
    lines += [f"sheet = {_text(layout.sheet)}"] if layout.sheet else []
    lines += [f"rows = {_text(layout.way)}"] if layout.way else []
    lines += [f"skip_lines = {len(layout.above)}"] if layout.above else []
    lines += [f"header_lines = {layout.header_lines}"] if layout.header_lines != 1 else []
    lines += ["units_row = true"] if layout.units else []
    if decimal != "." or not draft.signs_sure:
        lines.append(f"decimal = {_text(decimal)}" + ("" if draft.signs_sure else "  # unsure: it could separate thousands"))
    lines += [f"thousands = {_text(thousands)}"] if thousands else []
    lines += ["# not understood, left out: " + ", ".join(map(_one_line, unknown))] if unknown else []
    lines += [f"leave_out = {_list((*left_out, *unknown))}"] if left_out or unknown else []
    return lines


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _source(column: DraftedColumn) -> str:
    if column.number_rows:
        return "number_rows = true"
    if column.template:
        return f"template = {_text(column.template)}"
    if column.left:
        return f"left = {_text(column.left)}\nright = {_text(column.right)}"
    return f"from = {_texts(column.sources)}"


def _column(column: DraftedColumn) -> list[str]:
    lines = ["", f"[columns.{column.target}]"]
    if column.why or not column.sure:
        lines.append(_one_line(f"# {'' if column.sure else 'unsure: '}{column.why}"))
    lines.append(_source(column))
    lines += [f"cut = {_pattern(column.cut)}"] if column.cut else []
    lines += [f"unit = {_text(column.unit)}"] if column.unit else []
    lines += [f"format = {_texts(column.formats)}"] if column.formats else []
    lines += [f"duration = {_text(column.duration)}"] if column.duration else []
    lines += [f"scale = [{', '.join(f'{end:g}' for end in column.scale)}]"] if column.scale else []
    lines += [f"decimal = {_text(column.decimal)}", 'thousands = ""'] if column.decimal else []
    for key, words in (("plus", column.plus), ("minus", column.minus)):
        lines += [f"{key} = {_list(words)}"] if words else []
    for key in ("reverse", "names", "by_hand"):
        lines += [f"{key} = true"] if getattr(column, key) else []
    if column.words:
        pairs = ", ".join(f"{_text(word)} = {_text(meaning)}" for word, meaning in column.words.items())
        lines.append(f"words = {{ {pairs} }}")
    return lines


def _long(long: LongDraft) -> list[str]:
    lines = ["", "[long]", 'name = "what"', f"value = {_texts(long.values)}", "", "[long.rows]"]
    return lines + [f"{_text(word)} = {_texts(columns)}" for word, columns in long.rows.items()]


def mapping_text(
    draft: Drafting,
    columns: dict[str, DraftedColumn],
    captures: Captures,
    long: LongDraft | None,
    not_kept: list[str],
    unknown: list[str],
) -> str:
    """The mapping as TOML."""
    lines = ["# Drafted by `speedworth map`: read it, correct what is marked unsure, and save it as mappings/NAME.toml."]
    lines += _top(draft, not_kept, unknown)
    if draft.layout.ignored:
        lines += ["", "[ignore]"]
        lines += [f"{_text(name)} = {_list(words)}" for name, words in draft.layout.ignored.items()]
    if captures.file_name:
        told = "# unsure: taken from one name; check it with others"
        lines += ["", "[file_name]", told, f"pattern = {_pattern(captures.file_name)}"]
    for line, pattern in captures.heading:
        lines += ["", "[[heading]]", f"line = {line}", f"pattern = {_pattern(pattern)}"]
    if draft.kind == "shots" and draft.sessions:
        told = "# unsure: what these sessions were; remove this table when sessions come in a file of their own"
        lines += ["", "[session]", told, f"kind = {_text(draft.sessions)}"]
    lines += _long(long) if long else []
    for column in columns.values():
        lines += _column(column)
    return "\n".join(lines) + "\n"
