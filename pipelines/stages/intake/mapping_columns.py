"""The rules by which columns of ours are made, and what may stand in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.mapping_text import MappingText, listed
from schemas.regions import REGIONS
from schemas.units import UNITS, conversion

if TYPE_CHECKING:
    from schemas.fields import Field
    from schemas.files import FileKind

EPOCHS = {"epoch s": 1_000_000, "epoch ms": 1000}
"""Forms that count from 1970, and their microseconds."""
DURATIONS = {"h:m": ("h", "min"), "h:m:s": ("h", "min", "s"), "m:s": ("min", "s")}
_WAYS = ("from", "position", "template", "number_rows", "left")
WORST = 10.0
"""The end of our ratings."""


@dataclass(frozen=True)
class ColumnRule:
    """How one of our columns is made. Attributes are the keys of ``[columns.TARGET]``."""

    target: str
    sources: tuple[str, ...] = ()
    position: int = 0
    template: str = ""
    number_rows: bool = False
    left: str = ""
    right: str = ""
    by_hand: bool = False
    names: bool = False
    cut: str = ""
    unit: str = ""
    formats: tuple[str, ...] = ()
    duration: str = ""
    scale: tuple[float, ...] = ()
    plus: tuple[str, ...] = ()
    minus: tuple[str, ...] = ()
    reverse: bool = False
    decimal: str = ""
    thousands: str | None = None
    words: tuple[tuple[str, str], ...] = ()

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns of the export that it names."""
        return (*self.sources, *((self.left, self.right) if self.left else ()))

    @property
    def needs_hand(self) -> bool:
        """It asks for the player's hand."""
        return self.by_hand or bool(self.left)


def column_rule(reader: MappingText, kind: FileKind, target: str, raw: object) -> ColumnRule:
    """The rule of one column, checked."""
    place = f"columns.{target}"
    if target not in kind.names:
        raise reader.fault(f"{kind.name} has no column {target}", target, place, f"Its columns: {', '.join(kind.names)}.")
    if not isinstance(raw, dict):
        raise reader.fault(f"{target} must be a table", target, "columns", f'Write [{place}] and below it from = "...".')
    reader.shaped(place, "columns.TARGET", raw)
    if len(set(_WAYS) & raw.keys()) != 1 or ("left" in raw) != ("right" in raw):
        raise reader.fault(f"{target} needs one of from, position, template, number_rows, or left and right", target, place)
    rule = ColumnRule(
        target,
        listed(raw.get("from")),
        formats=listed(raw.get("format")),
        plus=listed(raw.get("plus")),
        minus=listed(raw.get("minus")),
        scale=tuple(float(number) for number in raw.get("scale", ())),
        words=tuple((word.strip().lower(), meaning) for word, meaning in raw.get("words", {}).items()),
        **{
            key: raw[key]
            for key in (
                "position", "template", "number_rows", "left", "right", "by_hand", "names", "cut", "unit", "duration", "reverse",
                "decimal", "thousands",
            )
            if key in raw
        },
    )  # fmt: skip
    field = kind.column(target).field
    _check_source(reader, rule, place)
    _check_body(reader, rule, place)
    for check in (_check_unit, _check_time, _check_number, _check_words):
        check(reader, field, rule, place)
    return rule


def _check_source(reader: MappingText, rule: ColumnRule, place: str) -> None:
    if not rule.columns and not rule.position and not rule.template and not rule.number_rows:
        raise reader.fault(f"{rule.target} names no column", "from", place, "Positions count from 1.")
    if rule.cut:
        compiled = reader.pattern(rule.cut, "cut", place)
        if not compiled.groups:
            raise reader.fault("the pattern of cut has no group", "cut", place, r"Write ( ) around what is to stay: 'Bay (\d+)'.")
        try:
            pl.Series(["x"]).str.extract(rule.cut)
        except pl.exceptions.PolarsError as fault:
            told = str(fault).strip().splitlines()[-1]
            raise reader.fault(f"the pattern cannot be used: {told}", "cut", place) from fault


def _check_unit(reader: MappingText, field: Field, rule: ColumnRule, place: str) -> None:
    if not rule.unit:
        return
    if rule.unit not in UNITS:
        raise reader.fault(f"unknown unit {rule.unit}", "unit", place, f"Units: {', '.join(UNITS)}.")
    try:
        conversion(rule.unit, field.unit)
    except (KeyError, ValueError):
        wanted = f"{field.unit}" if field.unit else "no unit"
        raise reader.fault(f"{rule.target} has {wanted}; {rule.unit} cannot be converted into it", "unit", place) from None


def _check_time(reader: MappingText, field: Field, rule: ColumnRule, place: str) -> None:
    if rule.formats and field.kind not in {"day", "instant"}:
        raise reader.fault(f"{rule.target} is no day or time, it takes no format", "format", place)
    for form in rule.formats:
        if form in EPOCHS and field.kind == "day":
            raise reader.fault(
                f"{rule.target} is a day: {form} does not say where", "format", place, "Use a form such as %Y-%m-%d."
            )
        if form not in EPOCHS and not _is_form(form, field.kind):
            raise reader.fault(
                f"the form {form!r} cannot be used",
                "format",
                place,
                'Use %Y %m %d %H %M %S and the like, "epoch s" or "epoch ms".',
            )
    if rule.duration and rule.duration not in DURATIONS:
        raise reader.fault(f"duration is {rule.duration!r}", "duration", place, f"Use one of {', '.join(DURATIONS)}.")
    if rule.duration and (not field.unit or UNITS[field.unit].quantity != "time"):
        raise reader.fault(f"{rule.target} is no length of time", "duration", place)
    if rule.duration and rule.unit:
        raise reader.fault("duration says what the numbers are; a unit cannot stand beside it", "unit", place)


def _is_form(form: str, kind: str) -> bool:
    sample = pl.Series(["x"])
    try:
        sample.str.to_date(form, strict=False) if kind == "day" else sample.str.to_datetime(form, strict=False, time_unit="us")
    except pl.exceptions.PolarsError:
        return False
    return "%" in form


def is_rating(field: Field) -> bool:
    """Whether it is a rating from 0 = none/best to 10 = worst."""
    return field.kind == "number" and not field.unit and (field.low, field.high) == (0, WORST)


def _check_number(reader: MappingText, field: Field, rule: ColumnRule, place: str) -> None:
    is_number = field.kind in {"number", "integer"}
    for key in ("plus", "minus", "reverse"):
        if getattr(rule, key) and not is_number:
            raise reader.fault(f"{rule.target} is no number, it has no sign", key, place)
    if rule.scale and not is_rating(field):
        raise reader.fault(f"{rule.target} is no rating from 0 to 10", "scale", place)
    if rule.scale and rule.scale[0] == rule.scale[1]:
        raise reader.fault("scale needs two different numbers", "scale", place, "Write none/best first, then worst: [1, 5].")
    if rule.decimal not in {"", ".", ","}:
        raise reader.fault("decimal must be . or ,", "decimal", place)
    if rule.thousands and (len(rule.thousands) > 1 or rule.thousands.isdigit()):
        raise reader.fault("thousands must be one sign that is no digit", "thousands", place)


def _check_body(reader: MappingText, rule: ColumnRule, place: str) -> None:
    if rule.left and not _is_sided(rule.target):
        raise reader.fault(f"{rule.target} is no lead or trail side", "left", place, "Use it for lead_ and trail_ regions.")
    if rule.by_hand and rule.target not in {"side", "region"}:
        raise reader.fault(f"{rule.target} holds no side of the body", "by_hand", place, "Use it for side and region.")
    if rule.names and rule.target != "player_id":
        raise reader.fault(f"{rule.target} is no player", "names", place, "Use it for player_id.")


def _is_sided(target: str) -> bool:
    return target.removeprefix("stiff_").startswith(("lead_", "trail_"))


_SIDES = {"left", "right", *(region.replace("lead_", side) for region in REGIONS for side in ("left_", "right_"))}
_SIDES -= set(REGIONS)


def _check_words(reader: MappingText, field: Field, rule: ColumnRule, place: str) -> None:
    allowed = {*field.allowed, *(_SIDES if rule.by_hand else ())}
    for word, meaning in rule.words:
        if field.allowed and meaning not in allowed:
            raise reader.fault(f"{word} is to mean {meaning!r}", "words", place, f"Allowed: {', '.join(sorted(allowed))}.")
