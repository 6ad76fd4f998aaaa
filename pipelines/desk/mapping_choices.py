"""What somebody chooses on the page of a mapping: out of the form into hints for the draft, and from the draft onto the page."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from pipelines.desk.mapping_words import meanings, word_rows, words_of_form
from pipelines.stages.intake.draft import SIDED, TOGETHER, Hints, possible_roles
from pipelines.stages.intake.mapping_columns import is_rating
from reports.findings.drafts import column_name, why_texts
from schemas.files import KINDS
from schemas.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from markupsafe import Markup

    from pipelines.desk.visit import Visit
    from pipelines.stages.intake import DraftedMapping, Inspection
    from pipelines.stages.intake.draft import DraftedColumn
    from pipelines.stages.intake.mapping import Mapping
    from pipelines.stages.intake.mapping_columns import ColumnRule
    from schemas.fields import Field

ORDERS, DECIMALS = ("dmy", "mdy"), {".": "point", ",": "comma"}
MISSING = "FILL IN"
"""What a draft writes where nothing in the file says what is required."""
_SCALES = ((0.0, 10.0), (10.0, 0.0), (1.0, 10.0), (10.0, 1.0), (1.0, 5.0), (5.0, 1.0), (0.0, 5.0), (5.0, 0.0), (0.0, 100.0))
_LONGEST_VALUE = 100


@dataclass
class Choices:
    """What was chosen.

    Attributes
    ----------
    hints : Hints
        As far as it can be used.
    roles : dict
        Header to what was chosen, also where it cannot be used.
    values : dict
        Column of ours to what was written for every row.
    errors : dict
        Field of the form to what is wrong with it, in words.
    """

    hints: Hints
    roles: dict[str, str] = field(default_factory=dict)
    values: dict[str, str] = field(default_factory=dict)
    errors: dict[str, str] = field(default_factory=dict)


def quantity_of(kind: str, role: str) -> Field | None:
    """The quantity of a column of ours; None for a part of one, or for what is left out."""
    return KINDS[kind].column(role).field if role in KINDS[kind].names else None


def first_choices(base: DraftedMapping, mapping: Mapping | None) -> Choices:
    """What the page begins with: the draft; where a mapping of that kind is there, what it says of single columns."""
    hints = Hints(base.kind, sheet=base.sheet)
    if mapping is None or mapping.kind != base.kind:
        return Choices(hints, dict(base.roles))
    said = {rule.sources[0]: rule for rule in mapping.columns if len(rule.sources) == 1}
    roles = {header: said[header].target if header in said else role for header, role in base.roles.items()}
    roles |= dict.fromkeys(set(mapping.leave_out) & set(base.header) - set(said), "")
    own = {header: quantity_of(base.kind, rule.target) for header, rule in said.items()}
    hints = replace(
        hints,
        roles=roles,
        units={name: rule.unit or quantity.unit for name, rule in said.items() if (quantity := own[name]) and quantity.unit},
        reversed_sides={name: rule.reverse for name, rule in said.items() if rule.target in SIDED and not rule.plus},
        scales={name: (rule.scale[0], rule.scale[1]) for name, rule in said.items() if rule.scale},
        words={name: words for name, rule in said.items() if (words := _said_words(rule))},
        decimal=mapping.decimal,
        sessions=dict(mapping.session).get("kind", ""),
    )
    return Choices(hints, roles)


def _said_words(rule: ColumnRule) -> dict[str, str]:
    """What a mapping says of words of a column."""
    sides = {word.lower(): side for side, words in (("plus", rule.plus), ("minus", rule.minus)) for word in words}
    return {**dict(rule.words), **sides}


def choices_of(visit: Visit, base: DraftedMapping) -> Choices:
    """What was chosen on the page that was made from this draft."""
    found = Choices(Hints(base.kind, sheet=base.sheet))
    for place, header in enumerate(base.header):
        found.roles[header] = _role(visit, found, base, place)
    twice = {role for role, n in Counter(found.roles.values()).items() if n > 1 and role not in {"", TOGETHER}}
    for place, header in enumerate(base.header):
        if found.roles[header] in twice:
            name = column_name(found.roles[header], visit.words)
            found.errors[f"take-{place}"] = visit.words("desk.mapping.twice", name=name)
    roles = {header: "" if role in twice else role for header, role in found.roles.items()}
    found.hints = replace(found.hints, roles=roles, **_whole_file(visit), **_details(visit, found, base))
    found.hints = replace(found.hints, values=_values(visit, found, base.kind))
    return found


def _role(visit: Visit, found: Choices, base: DraftedMapping, place: int) -> str:
    role, header = visit.field(f"take-{place}"), base.header[place]
    if role in {"", *possible_roles(base.kind)} or role == base.roles[header]:
        return role
    found.errors[f"take-{place}"] = visit.words("desk.mapping.choose")
    return base.roles[header]


def _whole_file(visit: Visit) -> dict[str, Any]:
    order, decimal, sessions = (visit.field(name) for name in ("order", "decimal", "sessions"))
    known = quantity_of("sessions", "kind")
    return {
        "order": order if order in ORDERS else "",
        "decimal": decimal if decimal in DECIMALS else "",
        "sessions": sessions if known is not None and sessions in known.allowed else "",
    }


def _details(visit: Visit, found: Choices, base: DraftedMapping) -> dict[str, Any]:
    """Unit, side, scale and words of columns for which something else was chosen than the page proposed."""
    told: dict[str, dict[str, Any]] = {"units": {}, "reversed_sides": {}, "scales": {}, "words": {}}
    for place, header in enumerate(base.header):
        role = found.roles[header]
        quantity = quantity_of(base.kind, role)
        if quantity is None or visit.field(f"for-{place}") != role:
            continue
        for part, name in (("unit", "units"), ("side", "reversed_sides"), ("scale", "scales")):
            chosen = visit.field(f"{part}-{place}")
            if not chosen or chosen == visit.field(f"{part}-had-{place}"):
                continue
            if chosen not in _offered(part, role, quantity):
                found.errors[f"{part}-{place}"] = visit.words("desk.mapping.choose")
                continue
            told[name][header] = _as_hint(part, chosen)
        told["words"][header], wrong = words_of_form(visit, place, meanings(role, quantity))
        found.errors |= dict.fromkeys(wrong, visit.words("desk.mapping.choose"))
    return told


def _as_hint(part: str, chosen: str) -> Any:
    if part == "side":
        return chosen == "left"
    return _ends(chosen) if part == "scale" else chosen


def _ends(text: str) -> tuple[float, float]:
    low, _, high = text.partition(" ")
    return float(low), float(high)


def scale_text(ends: tuple[float, ...]) -> str:
    """A scale as the form carries it."""
    return " ".join(f"{end:g}" for end in ends)


def _offered(part: str, role: str, quantity: Field) -> list[str]:
    """What may be chosen."""
    if part == "unit":
        measures = UNITS[quantity.unit].quantity if quantity.unit in UNITS else ""
        return [symbol for symbol, unit in UNITS.items() if measures and unit.quantity == measures]
    if part == "side":
        return ["right", "left"] if role in SIDED else []
    return [scale_text(ends) for ends in _SCALES] if is_rating(quantity) else []


def _values(visit: Visit, found: Choices, kind: str) -> dict[str, str]:
    """What was written for every row, of columns that no column of the file is."""
    told: dict[str, str] = {}
    for target in KINDS[kind].names:
        value = visit.field(f"value-{target}")
        if not value or target in found.roles.values():
            continue
        found.values[target] = value
        if _fits(visit, kind, target, value):
            told[target] = value
        else:
            found.errors[f"value-{target}"] = visit.words("desk.mapping.value_unfit")
    return told


def _fits(visit: Visit, kind: str, target: str, value: str) -> bool:
    quantity = KINDS[kind].column(target).field
    if len(value) > _LONGEST_VALUE or set(value) & set("{}\n\r") or value == MISSING:
        return False
    if quantity.allowed:
        return value in quantity.allowed
    if target == "player_id":
        return visit.view.player(value) is not None
    return not quantity.pattern or bool(re.match(quantity.pattern, value))


def _using(draft: DraftedMapping, header: str) -> list[DraftedColumn]:
    """Columns of ours that are made of a column of the file."""
    return [
        column
        for column in draft.columns
        if header in (*column.sources, column.left, column.right) or f"{{{header}}}" in column.template
    ]


def column_rows(visit: Visit, draft: DraftedMapping, choices: Choices, found: Inspection | None) -> list[dict[str, Any]]:
    """What the page shows of each column of the file."""
    wide = [column for column in draft.columns if {"what"} & set(column.sources)]
    rows = []
    for place, header in enumerate(draft.header):
        role = choices.roles.get(header, draft.roles[header])
        made = wide if draft.roles[header] == TOGETHER and wide else _using(draft, header)
        rows.append(
            {
                "place": place,
                "header": header,
                "cells": draft.cells[header],
                "role": role,
                "roles": _role_options(visit, draft, header),
                "details": _detail_rows(visit, choices, place, role, made, header, draft.kind),
                "words": _words(visit, choices, place, made, draft.kind, found),
                "sure": all(column.sure for column in made),
                "why": _why(visit, draft, header, made),
                "error": choices.errors.get(f"take-{place}", ""),
                "not_loaded": "" if made is wide else _not_loaded(visit, found, {column.target for column in made}),
            }
        )
    return rows


def _role_options(visit: Visit, draft: DraftedMapping, header: str) -> list[tuple[str, str]]:
    options = sorted(
        ((role, column_name(role, visit.words)) for role in possible_roles(draft.kind)), key=lambda option: option[1].casefold()
    )
    together = [(TOGETHER, visit.words("desk.mapping.together"))] if draft.roles[header] == TOGETHER else []
    return [("", visit.words("desk.mapping.leave_out")), *together, *options]


def _detail_rows(
    visit: Visit, choices: Choices, place: int, role: str, made: list[DraftedColumn], header: str, kind: str
) -> list[dict[str, Any]]:
    quantity, rows = quantity_of(kind, role), []
    column = next((column for column in made if column.target == role and not column.duration), None)
    if quantity is None:
        return []
    if column is None:
        return _posted_details(visit, place, role, quantity) if f"take-{place}" in choices.errors else []
    hints = choices.hints
    told = {"unit": set(hints.units), "side": set(hints.reversed_sides), "scale": set(hints.scales)}
    now = {
        "unit": column.unit or quantity.unit,
        "side": "left" if column.reverse else "right",
        "scale": scale_text(column.scale or (0.0, 10.0)),
    }
    for part, value in now.items():
        offered = _offered(part, role, quantity)
        if not offered or (part == "side" and (column.plus or column.minus)):
            continue
        options = list(dict.fromkeys((*offered, value)))
        row = _detail(visit, part, place, (value, "" if header in told[part] else value), options)
        rows.append({**row, "error": choices.errors.get(f"{part}-{place}", "")})
    return rows


def _words(
    visit: Visit, choices: Choices, place: int, made: list[DraftedColumn], kind: str, found: Inspection | None
) -> dict[str, Any]:
    """Words of a column that one of ours is made of, and nothing else."""
    if len(made) != 1 or len(made[0].sources) != 1:
        return {}
    quantity = KINDS[kind].column(made[0].target).field
    rows = word_rows(visit, place, made[0], quantity, choices.hints.words.get(made[0].sources[0], {}), found)
    for row in (*rows.get("asked", ()), *rows.get("known", ())):
        row["error"] = choices.errors.get(row["name"], "")
    return rows


def _posted_details(visit: Visit, place: int, role: str, quantity: Field) -> list[dict[str, Any]]:
    """What was chosen of a column whose own choice cannot be used: it is not lost."""
    rows = []
    for part in ("unit", "side", "scale"):
        value, offered = visit.field(f"{part}-{place}"), _offered(part, role, quantity)
        if value in offered:
            rows.append(_detail(visit, part, place, (value, visit.field(f"{part}-had-{place}")), offered))
    return rows


def _detail(visit: Visit, part: str, place: int, chosen: tuple[str, str], options: list[str]) -> dict[str, Any]:
    """A choice about a column; ``chosen``: what is, and what was proposed (empty: somebody has said it)."""
    value, had = chosen
    return {
        "name": f"{part}-{place}",
        "had_name": f"{part}-had-{place}",
        "had": had,
        "label": visit.words(f"desk.mapping.{part}"),
        "value": value,
        "options": [(each, _option_text(visit, part, each)) for each in options],
        "error": "",
    }


def _option_text(visit: Visit, part: str, value: str) -> str:
    if part == "unit":
        return visit.words.either(f"units.{value}", value)
    if part == "side":
        return visit.words(f"desk.mapping.side_{value}")
    low, high = (visit.words.number(end, 0) for end in _ends(value))
    return visit.words("desk.mapping.ends", low=low, high=high)


def _why(visit: Visit, draft: DraftedMapping, header: str, made: list[DraftedColumn]) -> list[Markup | str]:
    if not draft.roles[header]:
        return [visit.words(f"desk.mapping.{'not_understood' if header in draft.not_understood else 'not_kept'}")]
    return [text for why in dict.fromkeys(column.why for column in made if column.why) for text in why_texts(why, visit.words)]


def _not_loaded(visit: Visit, found: Inspection | None, targets: set[str]) -> str:
    """How many cells of this column do not load, with the first of them."""
    if found is None:
        return ""
    rows = found.problems.filter(found.problems["column"].is_in(list(targets)) & (found.problems["severity"] != "warning"))
    if rows.is_empty():
        return ""
    first = rows.row(0, named=True)
    return visit.words.count("desk.mapping.not_loaded", rows.height, value=first["value"][:40], line=first["line"] or "-")


def made_rows(visit: Visit, draft: DraftedMapping, choices: Choices) -> list[dict[str, Any]]:
    """Columns of ours that are no column of the file: what they are made of, or the field in which somebody says it."""
    headers = set(draft.header)
    rows = []
    for column in draft.columns:
        if column.target in choices.values or column.template == MISSING:
            rows.append(_asked(visit, draft.kind, column, choices))
        elif not headers & {*column.sources, column.left, column.right} and "what" not in column.sources:
            rows.append(
                {"target": column.target, "name": column_name(column.target, visit.words), "asked": False, "sure": column.sure,
                 "how": column.template or visit.words("desk.mapping.numbered"), "why": list(why_texts(column.why, visit.words))}
            )  # fmt: skip
    return rows


def _asked(visit: Visit, kind: str, column: DraftedColumn, choices: Choices) -> dict[str, Any]:
    quantity = KINDS[kind].column(column.target).field
    options: Iterable[tuple[str, str]] = [(word, word) for word in quantity.allowed]
    if column.target == "player_id":
        options = [(row["player_id"], row["alias"]) for row in visit.view.players()]
    return {
        "target": column.target,
        "name": column_name(column.target, visit.words),
        "asked": True,
        "value": choices.values.get(column.target, ""),
        "options": list(options),
        "error": choices.errors.get(f"value-{column.target}", ""),
    }
