"""Sentences of technique trials: verdict, what stands beside it, what to do next. Rows are those of the trial marts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase
from reports.findings.flags import capital, metric_name
from reports.numbers import beside_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from reports.numbers import Numbers
    from reports.words import Words

QUANTITY_OF: dict[str, str] = {
    "club_speed_mps": "speed",
    "ball_speed_mps": "speed",
    "speed_ratio": "ratio",
    "carry_m": "spread",
    "offline_m": "spread",
    "attack_deg": "angle",
    "path_deg": "angle",
    "face_deg": "angle",
    "loft_deg": "angle",
    "launch_deg": "angle",
    "direction_deg": "angle",
    "spin_rpm": "spin",
    "strike_side_mm": "strike",
    "strike_height_mm": "strike",
}
"""Measurement of a trial to the quantity by which a change of it is shown."""

SPEED = "club_speed_mps"
SAYS_THE_SIGN = frozenset({"strokes_lost", "strokes_gained", "second_day_strokes", "body_first_strokes"})
"""Sentences that say whether strokes are saved or lost, so that their number has no sign."""
SURE, POSSIBLE = 0.90, 0.10


def word_key(row: Mapping[str, Any]) -> str:
    """Key of the word for a trial: its verdict, or planned, or statement; of one that was ended and still to be tested, that."""
    if _ended_open(row):
        return "ended_same" if row["reason"] == "no_difference" else "ended_open"
    return str(row["verdict"]).replace(" ", "_") if row["state"] == "verdict" else str(row["state"])


def _ended_open(row: Mapping[str, Any]) -> bool:
    """Whether the trial was ended while its verdict was to keep testing."""
    return row["state"] == "verdict" and row["verdict"] == "keep testing" and row["ended_on"] is not None


def course_name(course: str, words: Words) -> str:
    """The course in a table: ``tree-lined``, or the name of the academy's own."""
    return words.either(f"trial.course_name.{course}", course)


def title_of(row: Mapping[str, Any], words: Words) -> str:
    """What was tried, or the trial's id where nobody said."""
    question = str(row["question"])
    return capital(question) if question else words("trial.untitled", id=row["trial_id"])


def arm_name(arm: Mapping[str, Any], words: Words) -> str:
    """The arm; normal is said to be normal where its name does not."""
    name = str(arm["arm"])
    return name if not arm["is_normal"] or name.casefold() == words("trial.normal") else words("trial.normal_arm", arm=name)


def change(effect: Mapping[str, Any], numbers: Numbers) -> str:
    """A change with its interval, in the unit of its measurement."""
    quantity = QUANTITY_OF.get(effect["metric"], "ratio")
    return numbers.estimate(quantity, effect["mean"], effect["low"], effect["high"], signed=True)


def speed_change(effect: Mapping[str, Any] | None, numbers: Numbers) -> str:
    """A change of club speed: unit, percent, and interval."""
    if effect is None:
        return numbers.bare("speed", None)
    percent = numbers.with_unit("percent", 100 * effect["mean"] / effect["level"], signed=True)
    amount = numbers.with_unit("speed", effect["mean"], signed=True)
    ends = numbers.interval("speed", effect["low"], effect["high"], signed=True)
    interval = beside_unit(ends, numbers.unit("speed"))  # beside a change in per cent too, the interval is of the speed
    return f"{amount} ({percent}; {numbers.words('numbers.interval_90', interval=interval)})"


def strokes_change(strokes: Mapping[str, Any] | None, numbers: Numbers, *, bare: bool = False) -> str:
    """A difference in strokes a round with its interval; ``bare`` leaves out the sign, where the sentence says it."""
    words = numbers.words
    if strokes is None:
        return numbers.bare("strokes", None)
    sign = -1.0 if bare and strokes["mean"] < 0 else 1.0
    low, high = (words.end(end, 1) for end in sorted((sign * strokes["low"], sign * strokes["high"])))
    interval = words("numbers.interval", low=low.lstrip("+") if bare else low, high=high.lstrip("+") if bare else high)
    return words("trial.said.strokes_amount", amount=words.number(sign * strokes["mean"], 1, signed=not bare), interval=interval)


def scatter_ratio(arm: Mapping[str, Any], numbers: Numbers) -> str:
    """Left-right scatter over normal with its interval."""
    if arm["left_right_ratio"] is None:
        return numbers.bare("ratio", None)
    interval = numbers.interval("ratio", arm["left_right_low"], arm["left_right_high"])
    return numbers.words("trial.said.ratio", ratio=numbers.bare("ratio", arm["left_right_ratio"]), interval=interval)


def statement(row: Mapping[str, Any], words: Words) -> str:
    """Why there is no verdict: the gravest reason in full."""
    codes = list(row["statements"])
    return words.either(f"trial.statement_text.{codes[0]}", codes[0]) if codes else ""


def _reason(row: Mapping[str, Any], strokes: Mapping[str, Any] | None, effect: Mapping[str, Any] | None = None) -> str:
    """Why the verdict is as it is; a price that nothing tells is unknown, not unclear, and a loss of speed is no gain."""
    reason = str(row["reason"])
    if reason in {"second_day", "body_first"} and row["speed_side"] != "better":
        if row["strokes_side"] == "better":
            return f"{reason}_strokes"
        return f"{reason}_less" if row["speed_side"] == "worse" else reason
    if reason == "not_clear_yet" and effect is not None and effect["high"] < 0.0:
        return "not_clear_less"
    return "price_unknown" if reason == "price_unclear" and strokes is None else reason


def verdict_sentence(
    row: Mapping[str, Any],
    arm: Mapping[str, Any] | None,
    effect: Mapping[str, Any] | None,
    strokes: Mapping[str, Any] | None,
    numbers: Numbers,
) -> str:
    """The verdict on a trial in one sentence, for coach and physio.

    Parameters
    ----------
    row : mapping
        Row of ``mart_trial_result``.
    arm, effect, strokes : mapping or None
        Rows of ``mart_trial_arm``, ``mart_trial_effect`` (club speed) and ``mart_trial_strokes`` (course that counts) of the arm
        that the verdict is about.
    numbers : Numbers
    """
    words = numbers.words
    if row["state"] == "planned":
        return words("trial.planned_lead")
    if row["state"] == "statement" or arm is None:
        return words("trial.said.statement", why=statement(row, words))
    reason = _reason(row, strokes, effect)
    too = words("trial.said.speed_too", speed=speed_change(effect, numbers)) if effect and effect["more"] > SURE else ""
    return words(
        f"trial.{'said_ended' if _ended_open(row) else 'said'}.{reason}",
        arm=arm["arm"],
        course=course_phrase(row["home_course"], words),
        speed=speed_change(effect, numbers),
        speed_too=too,
        strokes=strokes_change(
            strokes, numbers, bare=reason in {"strokes_lost", "strokes_gained"} or reason.endswith("_strokes")
        ),
        scatter=scatter_ratio(arm, numbers),
        shots=words.count("n.shots", row["n_shots"]),
    )


def plain_sentence(
    row: Mapping[str, Any],
    arm: Mapping[str, Any] | None,
    effect: Mapping[str, Any] | None,
    strokes: Mapping[str, Any] | None,
    numbers: Numbers,
) -> str:
    """The verdict in plain words for the player; parameters as in :func:`verdict_sentence`."""
    words = numbers.words
    if row["state"] == "planned":
        return words("trial.plain.planned")
    if row["state"] == "statement" or arm is None:
        return words("trial.plain.statement", why=statement(row, words))
    asked = row["verdict"] == "keep" and row["body_side"] == "ask"
    reason = _reason({**row, "reason": "body_first"} if asked else row, strokes)
    return words(
        f"trial.{'plain_ended' if _ended_open(row) else 'plain'}.{reason}",
        arm=arm["arm"],
        course=course_phrase(row["home_course"], words),
        speed=numbers.with_unit("speed", abs(effect["mean"]) if effect else None),
        amount=words.number(abs(strokes["mean"]), 1) if strokes else "",
    )


def side_words(
    row: Mapping[str, Any], effect: Mapping[str, Any] | None, strokes: Mapping[str, Any] | None, words: Words
) -> list[tuple[str, str]]:
    """Speed, strokes, scatter and body side by side: name and word; the body not for the coach.

    Parameters
    ----------
    row : mapping
        Of ``mart_trial_result``, with ``body_side``.
    effect, strokes : mapping or None
        Effect on club speed, and strokes at home, of the arm that the verdict is about.
    words : Words
    """
    if row["state"] != "verdict":
        return []
    return [
        (words("trial.speed"), words(f"trial.side.{_side(row['speed_side'], effect)}")),
        (words("trial.strokes"), words(f"trial.side.{_side(row['strokes_side'], strokes)}")),
        (words("trial.scatter"), words(f"trial.scatter_side.{row['scatter_side']}")),
        *([(words("trial.body"), words(f"trial.body_side.{row['body_side']}"))] if row["body_side"] else []),
    ]


def _side(side: str, effect: Mapping[str, Any] | None) -> str:
    """Where the interval leaves out zero it is seen to be more or less, if not clearly by what matters."""
    if side != "open" or effect is None:
        return side
    return "more" if effect["low"] > 0.0 else "less" if effect["high"] < 0.0 else side


def scatter_sentence(arm: Mapping[str, Any], numbers: Numbers) -> str:
    """What happened to the left-right scatter of one arm."""
    wider = arm["left_right_wider"]
    key = "wider" if wider > SURE else "same" if wider < POSSIBLE else "open"
    return numbers.words(
        f"trial.lands.{key}",
        arm=capital(str(arm["arm"])),
        ratio=numbers.bare("ratio", arm["left_right_ratio"]),
        interval=numbers.interval("ratio", arm["left_right_low"], arm["left_right_high"]),
        matters=numbers.bare("ratio", arm["left_right_worthwhile"]),
    )


def _moved(effect: Mapping[str, Any]) -> float:
    return float(effect["more"] + effect["less"])


def side_effects(effects: Iterable[Mapping[str, Any]], numbers: Numbers) -> tuple[list[str], list[str]]:
    """Measurements of swing and strike that moved, each with arm and change; and names of those that may have."""
    words = numbers.words
    moved: list[str] = []
    possible: dict[str, None] = {}
    for effect in effects:
        if not effect["is_delivery"]:
            continue
        metric = metric_name(effect["metric"], words)
        if _moved(effect) > SURE:
            moved.append(words("trial.else_section.one_moved", metric=metric, arm=effect["arm"], change=change(effect, numbers)))
        elif _moved(effect) > POSSIBLE:
            possible[metric] = None
    return moved, list(possible)


def else_sentences(effects: Sequence[Mapping[str, Any]], numbers: Numbers) -> list[str]:
    """Whether only one thing changed."""
    words = numbers.words
    if not any(effect["is_delivery"] for effect in effects):
        return [words("trial.else_section.nothing")]
    moved, possible = side_effects(effects, numbers)
    found = [words("trial.else_section.moved", what=words.listing(moved)) if moved else words("trial.else_section.none")]
    if possible:
        found.append(capital(words("trial.else_section.open", what=words.listing(possible))))
    return found


def cost_sentence(strokes: Mapping[str, Any], numbers: Numbers) -> str:
    """What one arm costs or saves on one course."""
    words = numbers.words
    sure = {"better": strokes["better"] > SURE and strokes["high"] < 0, "worse": strokes["worse"] > SURE and strokes["low"] > 0}
    same = 1 - strokes["better"] - strokes["worse"] > SURE
    key = next((name for name, holds in sure.items() if holds), "same" if same else _side("open", strokes))
    amount = strokes_change(strokes, numbers, bare=key not in {"same", "open"})
    return words(
        f"trial.cost_section.{key}",
        arm=capital(str(strokes["arm"])),
        course=course_phrase(strokes["course"], words),
        amount=amount,
    )


def dose_sentence(dose: Mapping[str, Any], numbers: Numbers) -> str:
    """Whether more of the change brings more club speed; never against the interval that is printed beside it."""
    rises, falls = dose["rising"] > SURE and dose["low"] > 0.0, dose["rising"] < 1 - SURE and dose["high"] < 0.0
    key = "rising" if rises else "falling" if falls else "open"
    return numbers.words(f"trial.dose_section.{key}", change=change(dose, numbers))


def since_name(metric: str, words: Words) -> str:
    """Name of a measurement of the normal swing since the trial."""
    if metric.endswith("_log_mad"):
        return words(f"trial.since_section.log_mad_{metric.removesuffix('_log_mad')}")
    return metric_name(metric, words)


def since_sentence(rows: Sequence[Mapping[str, Any]], words: Words) -> str:
    """Whether the normal swing lies where it lay."""
    if not rows:
        return words("trial.since_section.none")
    day = words.day(rows[0]["normal_until"])
    for state in ("not_back", "not_clear"):
        named = [since_name(row["metric"], words) for row in rows if row["state"] == state]
        if named:
            return words(f"trial.since_section.{state}", what=words.listing(named), day=day)
    return words("trial.since_section.back", day=day)


def next_steps(row: Mapping[str, Any], words: Words) -> list[str]:
    """What to do now, most important first."""
    if row["ended_on"] is not None:
        return [*_after_end(row, words), words("trial.next_section.ended", day=words.day(row["ended_on"]))]
    if row["state"] != "verdict":
        return [words(f"trial.next_section.{row['state']}"), *_mix(row, words)]
    reason = row["reason"]
    if row["verdict"] == "keep":
        return _kept(row, words)
    if row["verdict"] == "go back":
        return [words("trial.next_section.go_back", normal=row["normal_arm"])]
    steps = {"second_day": ["second_day"], "body_first": ["body"], "no_difference": ["no_difference"]}.get(reason, [])
    if "one_day" in row["notes"] and reason not in {"second_day", "no_difference"}:
        steps = [*steps, "second_day"]
    found = [words(f"trial.next_section.{step}") for step in steps]
    if row["body_side"] == "ask" and reason != "body_first":
        found.append(words("trial.next_section.body"))
    if row["more_for_speed"]:
        found.append(words("trial.next_section.speed", n=words.number(row["more_for_speed"], 0)))
    if row["more_for_scatter"] and reason != "no_difference" and row.get("scatter_side") != "same":
        found.append(words("trial.next_section.scatter", n=words.number(row["more_for_scatter"], 0)))
    return [*found, *_worth(row, words), *_mix(row, words)]


def _after_end(row: Mapping[str, Any], words: Words) -> list[str]:
    """What follows from an ended trial: the change where its verdict was to keep it, and the normal swing in every other case."""
    if row["verdict"] == "keep":
        return _kept(row, words)
    step = "go_back" if row["verdict"] == "go back" else "ended_open"
    talk = [words("trial.next_section.body")] if row["body_side"] == "ask" else []
    return [*talk, words(f"trial.next_section.{step}", normal=row["normal_arm"])]


def with_end(sentence: str, row: Mapping[str, Any], words: Words) -> str:
    """A sentence about a trial, after that of when and by what rule it was ended; alone while the trial goes on."""
    if row["ended_on"] is None:
        return sentence
    rule = words(f"trial.end_rule.{ended_by(row)}")
    return f"{words('trial.ended', day=words.day(row['ended_on']), rule=rule)} {sentence}"


def ended_by(row: Mapping[str, Any]) -> str:
    """The rule by which it was ended; one whose sheet was full was not ended before that, whatever was said."""
    planned, struck = row.get("sheet_planned"), row.get("sheet_struck")
    is_full = planned is not None and struck is not None and struck >= planned
    return "sheet" if row["end_rule"] == "settled" and is_full else str(row["end_rule"])


def _kept(row: Mapping[str, Any], words: Words) -> list[str]:
    """What comes first when the ball says to keep it: a talk, where reports ask for one. The coach is always told of the talk."""
    keep, talk = words("trial.next_section.keep", arm=row["best_arm"]), words("trial.next_section.body")
    return {"ask": [talk, keep], "": [keep, talk]}.get(row["body_side"], [keep])


def _worth(row: Mapping[str, Any], words: Words) -> list[str]:
    value = row["value_of_more"]
    if value is None:
        return []
    if value < 0.01:
        return [words("trial.next_section.worth_nothing")]
    return [words("trial.next_section.worth", amount=words.number(value, 2))]


def _mix(row: Mapping[str, Any], words: Words) -> list[str]:
    wanted = {"not_random", "warm_up_counted", "one_arm", "arms_apart"} & {*row["notes"], *row["statements"]}
    other = ["other_order"] if "same_order" in row["notes"] else []
    return [words(f"trial.next_section.{step}") for step in (["mix"] if wanted else other)]
