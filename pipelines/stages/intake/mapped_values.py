"""Cells of an export as values of ours, still as text: numbers in our unit, ratings, lengths of time, days and times.

A cell that a rule cannot read gets a question mark in front, so that the check refuses it and names what stood in the file;
as it stands it might pass for one of ours, in another unit.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.mapping_columns import DURATIONS, EPOCHS, WORST
from schemas.units import conversion

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipelines.stages.intake.mapping import Mapping
    from pipelines.stages.intake.mapping_columns import ColumnRule
    from schemas.fields import Field

_NUMBER = r"([+-]?[0-9][0-9.,'\u00a0\u202f ]*|[+-]?[.,][0-9]+)"
_WORD = r"^\s*([^\d+\-.,\s][^\d]*?)?\s*" + _NUMBER + r"\s*([^\d\s][^\d]*?)?\s*$"
_UNIT_WORDS = {
    "deg": ("°", "deg", "degrees"),
    "%": ("%",),
    "degC": ("°c", "c"),
    "degF": ("°f", "f"),
    "yd": ("yds", "yards"),
    "m": ("meter", "metres"),
}
_OWN_FORMS = tuple(f"%Y-%m-%d{sign}%H:%M{rest}" for sign in "T " for rest in (":%S%.f", "", ":%S%.f%#z", "%#z"))
_LATE = "\u2212"
"""The minus sign of typography; exports use it beside the hyphen."""
_MINUTES = {"h": 60.0, "min": 1.0, "s": 1 / 60}
_TIME_WORDS = {
    "h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "std": "h", "stunden": "h", "heures": "h", "u": "h", "t": "h",
    "m": "min", "min": "min", "mins": "min", "minutes": "min", "minuten": "min", "s": "s", "sec": "s", "sek": "s",
}  # fmt: skip


def refused_unless(read: list[pl.Series], text: pl.Series) -> pl.Series:
    """What could be read; else the cell in a form that no check takes for a value."""
    return pl.select(_or_refused(read, text)).to_series()


def _or_refused(read: Sequence[pl.Series | pl.Expr], text: pl.Series | pl.Expr) -> pl.Expr:
    refused = pl.when(text.str.starts_with("? ")).then(text).otherwise(pl.concat_str(pl.lit("? "), text))
    return pl.coalesce(*read, refused)


def _plain_number(text: pl.Expr, decimal: str, thousands: str) -> pl.Expr:
    """Digits with a decimal point; null where the signs do not fit together."""
    text = text.str.replace_all("[\u00a0\u202f ']", "")
    if thousands:
        grouped = rf"^[+-]?\d{{1,3}}({re.escape(thousands)}\d{{3}})*([{re.escape(decimal)}]\d*)?$|^[^{re.escape(thousands)}]*$"
        text = pl.when(text.str.contains(grouped)).then(text.str.replace_all(re.escape(thousands), ""))
    if decimal == ",":
        text = pl.when(~text.str.contains(r"\.")).then(text.str.replace(",", "."))
    return text.cast(pl.Float64, strict=False)


def _sign(rule: ColumnRule, word: pl.Expr, unit_words: tuple[str, ...]) -> pl.Expr:
    """+1 or -1 by the word at the number; null for a word that says nothing."""
    signs = dict.fromkeys(("", *unit_words), 1.0)
    signs |= {each.lower(): 1.0 for each in rule.plus} | {each.lower(): -1.0 for each in rule.minus}
    return word.str.strip_chars().str.to_lowercase().replace_strict(signs, default=None, return_dtype=pl.Float64)


def _says_its_side_twice(rule: ColumnRule, before: pl.Expr, digits: pl.Expr, after: pl.Expr) -> pl.Expr:
    """A minus at a number with a word for its side, or two such words: "-3.2 L" may be left, or left taken back."""
    sides = [word.lower() for word in (*rule.plus, *rule.minus)]
    n_told = pl.sum_horizontal(word.str.strip_chars().str.to_lowercase().is_in(sides) for word in (before, after))
    return (n_told > 1) | ((n_told > 0) & digits.str.starts_with("-"))


def number_text(rule: ColumnRule, field: Field, mapping: Mapping, text: pl.Series) -> pl.Series:
    """Numbers in our unit and on our scale, as text."""
    if rule.duration:
        return _duration(rule, field, text)
    cells = text.alias("text").to_frame().select(pl.col("text").str.replace_all(_LATE, "-"))
    parts = cells.select("text", pl.col("text").str.extract_groups(_WORD).alias("parts")).unnest("parts")
    before, digits, after = (pl.col(name).fill_null("") for name in parts.columns[1:])
    unit = rule.unit or field.unit
    words = (unit.lower(), *_UNIT_WORDS.get(unit, ())) if unit else ()
    thousands = mapping.thousands if rule.thousands is None else rule.thousands
    value = _plain_number(digits, rule.decimal or mapping.decimal, thousands)
    value = pl.when(~_says_its_side_twice(rule, before, digits, after)).then(value)
    value = value * _sign(rule, before, words) * _sign(rule, after, words) * (-1.0 if rule.reverse else 1.0)
    if rule.unit and rule.unit != field.unit:
        to_si = conversion(rule.unit, field.unit)
        value = value * to_si.factor + to_si.offset
    if rule.scale:
        best, worst = rule.scale
        value = (value - best) * (WORST / (worst - best))
    return parts.select(_or_refused([(value + 0.0).cast(pl.String)], pl.col("text"))).to_series()


def _minutes(cell: str, parts: tuple[str, ...]) -> float | None:
    """Minutes of a length of time; None when numbers and letters do not say one."""
    if not re.fullmatch(r"\s*\d+([.,]\d+)?\s*[^\d\s\-]{0,8}\s*(\d+([.,]\d+)?\s*[^\d\s\-]{0,8}\s*){0,2}", cell):
        return None
    found = [
        (float(number.replace(",", ".")), word.lower()) for number, word in re.findall(r"(\d+(?:[.,]\d+)?)\s*([^\W\d_]*)", cell)
    ]
    if not any(word for _, word in found):
        units: list[str] = list(parts) if len(found) == len(parts) else []
    else:
        units = [_TIME_WORDS.get(word, "") for _, word in found]
        if len(found) > 1 and not found[-1][1] and units[-2] in {"h", "min"}:  # 7h10
            units[-1] = "min" if units[-2] == "h" else "s"
    if not units or "" in units or len(set(units)) < len(units):
        return None
    if any(number >= 60 for number, _ in found[1:]):
        return None
    return sum(number * _MINUTES[unit] for (number, _), unit in zip(found, units, strict=True))


def _duration(rule: ColumnRule, field: Field, text: pl.Series) -> pl.Series:
    """Lengths of time in our unit, as text."""
    parts = DURATIONS[rule.duration]
    per_unit = _MINUTES[field.unit]
    cells = {cell: _minutes(cell, parts) for cell in text.drop_nulls().unique().to_list()}
    told = {cell: repr(minutes / per_unit) for cell, minutes in cells.items() if minutes is not None}
    return refused_unless([text.replace_strict(told, default=None, return_dtype=pl.String)], text)


def day_text(rule: ColumnRule, text: pl.Series) -> pl.Series:
    """Days in our form."""
    read = [text.str.to_date(form, strict=False).cast(pl.String) for form in rule.formats]
    return refused_unless(read, text)


def _epoch(text: pl.Series, microseconds: int) -> pl.Series:
    seconds = text.cast(pl.Float64, strict=False)
    whole = pl.select(pl.when(seconds.is_finite() & (seconds.abs() < 1e14)).then(seconds * microseconds)).to_series()
    return whole.round().cast(pl.Int64, strict=False).cast(pl.Datetime("us")).dt.to_string("%Y-%m-%dT%H:%M:%S%.fZ")


def instant_text(rule: ColumnRule, mapping: Mapping, text: pl.Series) -> pl.Series:
    """Times in our form: local where the mapping names no zone, else UTC."""
    if not rule.formats and not mapping.time_zone:
        return text
    plain = text.str.replace(r"(?i)\b([ap])\.\s?m\.?", "${1}m")
    found: list[pl.Series] = []
    for form in rule.formats or _OWN_FORMS:
        if form in EPOCHS:
            found.append(_epoch(text, EPOCHS[form]))
            continue
        local = plain.str.to_datetime(form, strict=False, time_unit="us")
        if local.dtype == pl.Datetime("us", "UTC"):
            found.append(local.dt.to_string("%Y-%m-%dT%H:%M:%S%.fZ"))
        elif mapping.time_zone:
            zoned = local.dt.replace_time_zone(mapping.time_zone, ambiguous="earliest", non_existent="null")
            found.append(zoned.dt.convert_time_zone("UTC").dt.to_string("%Y-%m-%dT%H:%M:%S%.fZ"))
        else:
            found.append(local.dt.to_string("%Y-%m-%dT%H:%M:%S%.f"))
    return refused_unless(found, text)


def local_times(text: pl.Series, time_zone: str) -> pl.Series:
    """Days or times in our form as local times."""
    plain = text.str.slice(0, 19).str.replace(" ", "T")
    local = plain.str.to_datetime("%Y-%m-%dT%H:%M:%S", strict=False, time_unit="us")
    day = plain.str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False).cast(pl.Datetime("us"))
    at_utc = pl.select(pl.when(text.str.ends_with("Z")).then(local)).to_series().dt.replace_time_zone("UTC")
    moved = at_utc.dt.convert_time_zone(time_zone or "UTC").dt.replace_time_zone(None)
    return pl.select(pl.coalesce(moved, local, day)).to_series()


def by_hand(text: pl.Series, player: pl.Series, hands: dict[str, str]) -> pl.Series:
    """Left and right as lead and trail: the lead side is the left one of a right-handed player."""
    right_handed = player.replace_strict(hands, default=None, return_dtype=pl.String) == "right"
    side = text.str.extract(r"^(left|right)(?:_|$)")
    lead = pl.select(
        pl.when(right_handed.is_not_null()).then(
            pl.when((side == "left") == right_handed).then(pl.lit("lead")).otherwise(pl.lit("trail"))
        )
    ).to_series()
    rest = text.str.replace(r"^(left|right)", "")
    told = pl.select(pl.when(side.is_not_null()).then(pl.concat_str(lead, rest)).otherwise(text)).to_series()
    return refused_unless([told], text)
