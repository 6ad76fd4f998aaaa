"""A worked example under each measure: its computation with the numbers of one session, month, week or region of this academy."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase
from reports.findings.flags import region_name
from reports.findings.trend import change_text, ends_text

if TYPE_CHECKING:
    from reports.numbers import Numbers
    from schemas.academy import ReferenceAir

Row = dict[str, Any]
SPEED, CARRY = "club_speed_mps", "comparable_carry_m"
WITHIN = 1.645
"""Standard deviations on either side of a normal within which nine of ten values lie."""
STROKE_PARTS = ("clean", "rough", "trees", "water", "out_of_bounds")


def carry_example(row: Row, air: ReferenceAir, numbers: Numbers) -> str:
    """One session's carry as measured and as restated.

    Parameters
    ----------
    row : mapping
        ``alias``, ``on_date``, ``n``, ``carry_m`` as measured, ``value`` restated.
    air : ReferenceAir
    numbers : Numbers
    """
    words, way = numbers.words, row["value"] - row["carry_m"]
    return words(
        "worked.carry",
        alias=row["alias"],
        day=words.short_day(row["on_date"]),
        n=words.number(row["n"], 0),
        measured=numbers.with_unit("carry", row["carry_m"]),
        restated=numbers.with_unit("carry", row["value"]),
        difference=numbers.bare("carry", way, signed=True),
        temperature=words.number(air.temp_c, 0),
        pressure=words.number(air.pressure_hpa, 0),
    )


def level_example(row: Row, numbers: Numbers) -> str:
    """One session's speed, the level after it, and the change in 28 days; ``row`` is one of ``mart_trend`` with ``alias``."""
    words = numbers.words
    return words(
        "worked.level",
        alias=row["alias"],
        day=words.short_day(row["on_date"]),
        n=words.number(row["n"], 0),
        value=numbers.with_unit("speed", row["value"]),
        level=numbers.with_unit("speed", row["level"]),
        interval=numbers.interval("speed", row["level_low"], row["level_high"]),
        change=change_text(SPEED, row["change_28"], numbers),
        change_interval=ends_text(row, "change_28_low", "change_28_high", SPEED, numbers),
        worthwhile=change_text(SPEED, row["worthwhile"], numbers).lstrip("+"),
    )


def normal_example(row: Row, numbers: Numbers) -> str:
    """The own normal of speed, where nine of ten sessions lie, and whether this one does; ``row`` as for the level."""
    words, away = numbers.words, WITHIN * row["usual"] * row["usual_sd"] / 100
    ends = (row["usual"] - away, row["usual"] + away)
    return words(
        "worked.normal",
        alias=row["alias"],
        day=words.short_day(row["on_date"]),
        n=words.number(row["usual_n"], 0),
        usual=numbers.with_unit("speed", row["usual"]),
        sd=words.number(row["usual_sd"], 1),
        interval=numbers.interval("speed", *ends),
        value=numbers.with_unit("speed", row["value"]),
        inside=words("worked.inside" if ends[0] <= row["value"] <= ends[1] else "worked.outside"),
    )


def strokes_example(row: Row, numbers: Numbers) -> str:
    """One month's strokes as the sum of their parts; ``row`` is one of ``mart_stroke_month`` with ``alias``."""
    words = numbers.words
    parts = {name: words.number(row[f"{name}_per_round"], 2) for name in STROKE_PARTS}
    return words(
        "worked.strokes",
        alias=row["alias"],
        month=words.month(row["month_on"]),
        course=course_phrase(row["course"], words),
        n=words.number(row["n_shots"], 0),
        total=words.number(row["per_round"], 2),
        interval=numbers.interval("strokes", row["per_round_low"], row["per_round_high"]),
        **parts,
    )


def jump_example(row: Row, numbers: Numbers) -> str:
    """One week's swings against the mean of the four before; ``row`` is one of ``mart_load_now``."""
    words = numbers.words
    return words(
        "worked.jump",
        alias=row["alias"],
        day=words.short_day(row["on_date"]),
        week=words.number(row["week_swings"], 0),
        usual=words.number(row["usual_week_swings"], 0),
        change=words.number(100 * (row["week_swings"] / row["usual_week_swings"] - 1), 0, signed=True),
    )


def body_example(row: Row, numbers: Numbers) -> str:
    """The last answers on one region against the own normal; ``row`` is one of ``mart_physio_body_day`` with ``alias``."""
    words = numbers.words
    shown = {name: words.number(row[name], 1) for name in ("recent", "normal", "score")}
    return words(
        "worked.body",
        alias=row["alias"],
        day=words.short_day(row["on_date"]),
        region=region_name(row["region"], words),
        n_recent=words.number(row["n_recent"], 0),
        n_normal=words.number(row["n_normal"], 0),
        spread=words.number(row["normal_spread"], 2),
        above=words.number(row["recent"] - row["normal"], 1, signed=True),
        **shown,
    )
