"""A draft as the text of a mapping, with a remark at everything that is unsure."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.captures import Captures
    from pipelines.stages.intake.draft.columns import DraftedColumn
    from pipelines.stages.intake.draft.layout import Layout


def _text(value: str) -> str:
    """A TOML text."""
    return json.dumps(value, ensure_ascii=False)


def _texts(values: tuple[str, ...]) -> str:
    return _text(values[0]) if len(values) == 1 else f"[{', '.join(map(_text, values))}]"


def _pattern(value: str) -> str:
    """A TOML text without escapes, as patterns read best."""
    return f"'{value}'" if "'" not in value else _text(value)


def _top(
    layout: Layout, kind: str, signs: tuple[str, str], beyond_doubt: bool, left_out: list[str], unknown: list[str]
) -> list[str]:
    lines = [f"kind = {_text(kind)}"]
    if layout.delimiter != ",":
        lines.append(f"delimiter = {_text(layout.delimiter)}")
    if layout.encoding:
        lines.append(f"encoding = {_text(layout.encoding)}")
    if layout.above:
        lines.append(f"skip_lines = {len(layout.above)}")
    if layout.units:
        lines.append("units_row = true")
    decimal, thousands = signs
    if decimal != "." or not beyond_doubt:
        lines.append(f"decimal = {_text(decimal)}" + ("" if beyond_doubt else "  # unsure: it could separate thousands"))
    if thousands:
        lines.append(f"thousands = {_text(thousands)}")
    if unknown:
        lines.append("# not understood, left out: " + ", ".join(unknown))
    if left_out or unknown:
        lines.append(f"leave_out = [{', '.join(map(_text, (*left_out, *unknown)))}]")
    return lines


def _column(column: DraftedColumn) -> list[str]:
    lines = ["", f"[columns.{column.target}]"]
    if not column.sure:
        lines.append(f"# unsure: {column.why}")
    elif column.why:
        lines.append(f"# {column.why}")
    if column.number_rows:
        lines.append("number_rows = true")
    elif column.template:
        lines.append(f"template = {_text(column.template)}")
    else:
        lines.append(f"from = {_texts(column.sources)}")
    if column.unit:
        lines.append(f"unit = {_text(column.unit)}")
    if column.formats:
        lines.append(f"format = {_texts(column.formats)}")
    for key, words in (("plus", column.plus), ("minus", column.minus)):
        if words:
            lines.append(f"{key} = [{', '.join(map(_text, words))}]")
    if column.words:
        pairs = ", ".join(f"{_text(word)} = {_text(meaning)}" for word, meaning in column.words.items())
        lines.append(f"words = {{ {pairs} }}")
    return lines


def mapping_text(
    layout: Layout,
    kind: str,
    columns: dict[str, DraftedColumn],
    captures: Captures,
    signs: tuple[str, str],
    beyond_doubt: bool,
    not_kept: list[str],
    unknown: list[str],
) -> str:
    """The mapping as TOML."""
    lines = ["# Drafted by `speedworth map`: read it, correct what is marked unsure, and save it as mappings/NAME.toml."]
    lines += _top(layout, kind, signs, beyond_doubt, not_kept, unknown)
    if layout.ignored:
        lines += ["", "[ignore]"]
        lines += [f"{_text(name)} = [{', '.join(map(_text, words))}]" for name, words in layout.ignored.items()]
    if captures.file_name:
        lines += [
            "",
            "[file_name]",
            "# unsure: taken from one name; check it with others",
            f"pattern = {_pattern(captures.file_name)}",
        ]
    for line, pattern in captures.heading:
        lines += ["", "[[heading]]", f"line = {line}", f"pattern = {_pattern(pattern)}"]
    if kind == "shots":
        lines += [
            "",
            "[session]",
            "# unsure: what these sessions were; remove this table when sessions come in a file of their own",
            'kind = "range"',
        ]
    for column in columns.values():
        lines += _column(column)
    return "\n".join(lines) + "\n"
