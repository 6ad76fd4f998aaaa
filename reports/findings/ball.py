"""Sentences on what speed and scatter are worth, and on where speed is lost on its way to the ball."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.numbers import Numbers
    from reports.words import Words

FASTER_MPS, WIDER_DEG = 0.3, 0.2
"""Changes below these are called none: they lie within what two groups of drives differ by."""

Verdict = Literal["costs", "saves", "open", "none"]


def verdict(row: Mapping[str, Any] | None) -> Verdict:
    """What a row of ``mart_stroke_month`` says of the change on its course: as its 90 % interval, which is printed beside it."""
    if row is None or row["chance_cost"] is None:
        return "none"
    if row["change_low"] > 0:
        return "costs"
    return "saves" if row["change_high"] < 0 else "open"


def course_phrase(course: str, words: Words) -> str:
    """``the open course``, ``the tree-lined course``, or the name of the academy's own."""
    return words.either(f"course.{course}", course)


def course_name(course: str, words: Words) -> str:
    """The same where it stands by itself, as the name of a row or column."""
    return words.either(f"course_name.{course}", course)


def stroke_text(value: float | None, numbers: Numbers) -> str:
    """A number of strokes to one decimal, without sign."""
    words = numbers.words
    return words("ball.strokes", n=words.number(abs(value), 1)) if value is not None else numbers.bare("strokes", None)


def _speed_words(row: Mapping[str, Any], numbers: Numbers) -> str:
    change = row["change_speed_mps"]
    if change is None or abs(change) < FASTER_MPS:
        return numbers.words("ball.speed.same", limit=numbers.with_unit("speed", FASTER_MPS))
    return numbers.words("ball.speed.up" if change > 0 else "ball.speed.down", amount=numbers.with_unit("speed", abs(change)))


def _scatter_words(row: Mapping[str, Any], numbers: Numbers) -> str:
    change = row["change_scatter_deg"]
    if abs(change) < WIDER_DEG:
        return numbers.words("ball.scatter.same", limit=numbers.with_unit("angle", WIDER_DEG))
    key = "ball.scatter.up" if change > 0 else "ball.scatter.down"
    return numbers.words(key, amount=numbers.with_unit("angle", abs(change)))


def moved_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """What has moved between the reference months and the last three months: speed and scatter.

    Parameters
    ----------
    row : mapping
        A row of ``mart_stroke_month`` with a change.
    numbers : Numbers
    """
    words = numbers.words
    return words(
        "ball.moved",
        n=words.number(row["recent_n"], 0),
        now=words.month(row["month_on"]),
        before_n=words.number(row["reference_n"], 0),
        then=_then(row, words),
        speed=_speed_words(row, numbers),
        scatter=_scatter_words(row, numbers),
    )


def _then(row: Mapping[str, Any], words: Words) -> str:
    """The months compared with: ``in March 2026`` or ``from January 2026 to March 2026``."""
    first, last = (words.month(row[name]) for name in ("reference_from_on", "reference_to_on"))
    return words("ball.then_month", month=last) if first == last else words("ball.then_months", first=first, last=last)


def _item(row: Mapping[str, Any], numbers: Numbers) -> str:
    words = numbers.words
    values = {"course": course_phrase(row["course"], words), "amount": stroke_text(row["change"], numbers)}
    interval = words("numbers.interval_90", interval=words.ends(row["change_low"], row["change_high"], 1))
    return words(f"ball.item.{verdict(row)}", interval=interval, **values)


def worth_sentence(rows: Sequence[Mapping[str, Any]], numbers: Numbers) -> str:
    """Whether the change pays, as a coach would say it: where it saves strokes, where it costs, and where it is not clear.

    Where nothing is clear on the course that counts, it is said of no more than the other courses.

    Parameters
    ----------
    rows : sequence of mapping
        Newest rows of ``mart_stroke_month`` of one player, one for each course, the course that counts first.
    numbers : Numbers
    """
    words = numbers.words
    known = [row for row in rows if verdict(row) != "none"]
    if not known:
        return words("ball.no_reference")
    said = {kind: [row for row in known if verdict(row) == kind] for kind in ("costs", "saves", "open")}
    values = {kind: _amounts(said[kind], numbers) for kind in ("costs", "saves")}
    faster = "_faster" if (known[0]["change_speed_mps"] or 0.0) >= FASTER_MPS else ""
    if not said["costs"] and not said["saves"]:
        return words(f"ball.worth.open{faster}")
    some = "_some" if known[0] in said["open"] else ""
    way = "flip" if said["costs"] and said["saves"] else f"{'costs' if said['costs'] else 'saves'}{some}"
    return f"{words(f'ball.worth.{way}{faster}', **values)}{_not_clear(said['open'], words)}"


def worth_told(rows: Sequence[Mapping[str, Any]], numbers: Numbers, *, is_past: bool) -> str:
    """The same, with the month of which it is said where no drives have come lately."""
    said = worth_sentence(rows, numbers)
    if not is_past or all(verdict(row) == "none" for row in rows):
        return said
    return numbers.words("ball.worth_until", month=numbers.words.month(rows[0]["month_on"]), said=said)


def _not_clear(rows: Sequence[Mapping[str, Any]], words: Words) -> str:
    """On which courses it is not clear, after a space; empty where there is none."""
    courses = words.listing([course_phrase(row["course"], words) for row in rows])
    return f" {words('ball.worth.not_clear', courses=courses)}" if rows else ""


def _amounts(rows: Sequence[Mapping[str, Any]], numbers: Numbers) -> str:
    """``1.5 strokes on Alder Wood and 2.0 strokes on the tree-lined course``."""
    words = numbers.words
    return words.listing(
        [
            words("ball.price.on", amount=stroke_text(row["change"], numbers), course=course_phrase(row["course"], words))
            for row in rows
        ]
    )


def detail_sentence(rows: Sequence[Mapping[str, Any]], numbers: Numbers) -> str:
    """The change on every course with its interval."""
    items = [_item(row, numbers) for row in rows if verdict(row) != "none"]
    return numbers.words("ball.detail", items="; ".join(items)) if items else ""


def split_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """What distance and trouble have to do with the change on one course."""
    words = numbers.words
    if verdict(row) == "none":
        return words("ball.level", strokes=words.number(row["per_round"], 1), n=words.number(row["n_tee_shots"], 0))
    parts = {
        name: words(f"ball.{name}.{_way(row[column], numbers)}", amount=stroke_text(row[column], numbers))
        for name, column in (("distance", "change_distance"), ("trouble", "change_trouble"))
    }
    return words("ball.split", item=_item(row, numbers), **parts)


def _way(change: float, numbers: Numbers) -> str:
    """Whether a part costs or saves; nothing where it is printed as zero."""
    if stroke_text(change, numbers) == stroke_text(0.0, numbers):
        return "nothing"
    return "less" if change < 0 else "more"


def break_even_sentence(rows: Sequence[Mapping[str, Any]], numbers: Numbers) -> str:
    """What a gain of speed may cost in scatter, and a gain of scatter in speed, on each course.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of ``mart_break_even`` of one player.
    numbers : Numbers
    """
    if not rows:
        return ""
    words, first = numbers.words, rows[0]
    scatter = [_price(row, "scatter_price_deg", "angle", "ball.price.any_scatter", numbers) for row in rows]
    speed = [_price(row, "speed_price_mps", "speed", "ball.price.any_speed", numbers) for row in rows]
    return words(
        "ball.break_even",
        speed_gain=numbers.with_unit("speed", first["speed_gain_mps"]),
        scatter_items=words.listing(scatter),
        scatter_gain=numbers.with_unit("angle", first["scatter_gain_deg"]),
        speed_items=words.listing(speed),
    )


def _price(row: Mapping[str, Any], column: str, quantity: str, nothing: str, numbers: Numbers) -> str:
    words = numbers.words
    amount = words(nothing) if row[column] is None else numbers.with_unit(quantity, row[column])
    return words("ball.price.on", amount=amount, course=course_phrase(row["course"], words))


def transfer_sentence(row: Mapping[str, Any] | None, numbers: Numbers) -> str:
    """How much of a gain of club speed has arrived in carry, and where the rest went.

    Parameters
    ----------
    row : mapping or None
        Newest driver row of ``mart_transfer_month`` with a change; None: there is none.
    numbers : Numbers
    """
    words = numbers.words
    if row is None:
        return words("transfer.none")
    speed = row["club_speed_mps"] - row["reference_club_speed_mps"]
    values = {
        "month": words.month(row["month_on"]),
        "then": _then(row, words),
        "speed": numbers.with_unit("speed", abs(speed)),
        "offer": numbers.with_unit("spread", abs(row["on_offer_m"])),
        "arrived": _arrived(row, numbers),
    }
    if abs(speed) < FASTER_MPS:
        return words("transfer.same", **values)
    return words("transfer.up" if speed > 0 else "transfer.down", **values) + _losses(row, numbers)


def _arrived(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The change of carry with its interval, or why there is none."""
    words, change = numbers.words, numbers.with_unit("spread", row["carry_change_m"], signed=True)
    if row["carry_change_low_m"] is None:
        return words("transfer.arrived_without", change=change)
    ends = numbers.interval("spread", row["carry_change_low_m"], row["carry_change_high_m"], signed=True)
    interval = words("numbers.interval_90", interval=ends)
    return words("transfer.arrived", change=change, interval=interval)


def strike_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """What strikes off the middle took in a month, with the factor that was used and where it is from."""
    words = numbers.words
    if row["strike_loss"] is None:
        return ""
    return words(
        f"transfer.strike.{row['strike_factor_source']}",
        month=words.month(row["month_on"]),
        share=words.number(100.0 * row["strike_loss"], 1),
        factor=words.number(row["strike_factor"], 2),
        error=words.number(row["strike_factor_error"], 2),
        n=words.number(row["strike_factor_n"], 0),
    )


def model_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """How far the published sets of drag and lift differ on the month's carry and on its change."""
    if row["carry_m"] is None or row["carry_model_error_m"] is None or row["carry_change_model_error_m"] is None:
        return ""
    return numbers.words(
        "transfer.models",
        month=numbers.words.month(row["month_on"]),
        carry=numbers.with_unit("spread", row["carry_m"]),
        error=numbers.with_unit("spread", row["carry_model_error_m"]),
        change_error=numbers.with_unit("spread", row["carry_change_model_error_m"]),
    )


LOSSES = ("strike_m", "speed_ratio_m", "launch_m", "spin_m", "rest_m")


def _losses(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The parts that took at least a fifth of what was on offer, largest first."""
    words, offer = numbers.words, row["on_offer_m"]
    taken = sorted((row[name], name) for name in LOSSES if row[name] is not None and row[name] < -0.2 * abs(offer))
    items = [
        words("transfer.lost_rest", amount=numbers.with_unit("spread", -value))
        if name == "rest_m"
        else words("transfer.lost_item", part=words(f"transfer.part.{name}"), amount=numbers.with_unit("spread", -value))
        for value, name in taken
    ]
    return " " + words("transfer.lost", items=words.listing(items)) if items and offer > 0 else ""
