"""The evidence behind a trial's verdict: arms, side effects, strokes, dose, body, the time after, and the months around."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.flags import metric_name, region_name
from reports.findings.trials import (
    QUANTITY_OF,
    SPEED,
    arm_name,
    cost_sentence,
    course_name,
    dose_sentence,
    else_sentences,
    since_name,
    since_sentence,
)
from reports.pages.parts import bullets, folded, paragraph, section
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from reports.numbers import Numbers
    from reports.pages.context import PageContext
    from reports.trial_rows import TrialRows

Cells = list[str | Cell]
_MOST_FELT = 6


def _ranged(numbers: Numbers, quantity: str, row: dict[str, Any], names: tuple[str, str, str], *, signed: bool = False) -> Cell:
    """A number with its interval in the quieter line below."""
    value, low, high = (row[name] for name in names)
    if value is None:
        return Cell(numbers.bare(quantity, None))
    return Cell(numbers.bare(quantity, value, signed=signed), value, numbers.interval(quantity, low, high, signed=signed))


def arms_section(trial: TrialRows, context: PageContext) -> Markup:
    """The table of arms."""
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("trial.arm"), first=True),
        Head(words("trial.shots"), number=True),
        Head(words("trial.blocks"), number=True),
        Head(metric_name(SPEED, words).capitalize(), numbers.unit("speed"), number=True),
        Head(words("trial.carry"), numbers.unit("carry"), number=True),
        Head(words("trial.side_spread"), numbers.unit("spread"), number=True),
        Head(words("trial.scatter"), words("trial.times_normal"), number=True),
        Head(words("trial.mishits"), "%", number=True),
    ]
    rows: list[Cells] = []
    for arm in trial.arm.sort("amount").to_dicts():
        name = arm_name(arm, words)
        rows.append(
            [
                name,
                words.number(arm["n_shots"], 0),
                words.number(arm["n_blocks"], 0),
                numbers.bare("speed", arm["club_speed_mps"]),
                numbers.bare("carry", arm["carry_m"]),
                numbers.bare("spread", arm["offline_sd_m"]),
                _ranged(numbers, "ratio", arm, ("left_right_ratio", "left_right_low", "left_right_high")),
                _ranged(numbers, "share", arm, ("mishit_rate", "mishit_low", "mishit_high")),
            ]
        )
    listing = table(heads, rows, caption=words("trial.arms_section.question"), kind="stack")
    return section(
        words("trial.arms_section.question"),
        words("trial.arms_section.answer"),
        listing,
        bullets([*_sheet(trial, context), *_felt(trial, context)]),
        _every_effect(trial, context),
    )


def _sheet(trial: TrialRows, context: PageContext) -> list[str]:
    """How far the shots kept to the sheet; nothing where no sheet is known."""
    words, row = context.words, trial.result
    planned, struck, differing = (row[f"sheet_{name}"] for name in ("planned", "struck", "differing"))
    if planned is None:
        return []
    key = "differing" if differing else "complete" if struck >= planned else "short"
    share = context.numbers.with_unit("share", row["sheet_shrinks_to"])
    return [words(f"trial.arms_section.sheet_{key}", planned=planned, n=struck, differing=differing, share=share)]


def _felt(trial: TrialRows, context: PageContext) -> list[str]:
    """What was felt at the shots of each arm, the most frequent first; nothing where no sheet noted it."""
    words = context.words
    told = trial.felt.sort("n_shots", "felt", descending=[True, False])
    found = []
    for arm in trial.arm.sort("amount").to_dicts():
        rows = told.filter(pl.col("arm") == arm["arm"]).head(_MOST_FELT).to_dicts()
        said = [words("trial.arms_section.felt_times", felt=row["felt"], n=row["n_shots"]) for row in rows]
        if said:
            found.append(words("trial.arms_section.felt", arm=arm_name(arm, words), what=", ".join(said)))
    return found


def _every_effect(trial: TrialRows, context: PageContext) -> Markup:
    """Every measurement of every arm against normal, opened on demand."""
    if trial.effect.is_empty():
        return Markup("")
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("trial.measurement"), first=True),
        Head(words("trial.arm")),
        Head(words("trial.change"), number=True),
        Head(words("trial.matters"), number=True),
        Head(words("trial.up"), words("trial.chance"), number=True),
        Head(words("trial.down"), words("trial.chance"), number=True),
        Head(words("trial.shuffled"), words("trial.p_value"), number=True),
    ]
    order = {metric: place for place, metric in enumerate(QUANTITY_OF)}
    effects = sorted(trial.effect.to_dicts(), key=lambda row: (order.get(row["metric"], 99), row["arm"]))
    rows: list[Cells] = []
    for row in effects:
        quantity = QUANTITY_OF.get(row["metric"], "ratio")
        rows.append(
            [
                _with_unit(metric_name(row["metric"], words), numbers.unit(quantity)),
                row["arm"],
                _ranged(numbers, quantity, row, ("mean", "low", "high"), signed=True),
                numbers.bare(quantity, row["worthwhile"]),
                numbers.chance(row["more"]),
                numbers.chance(row["less"]),
                numbers.p_value(row["p_value"]),
            ]
        )
    return folded(words, words("trial.one_by_one"), table(heads, rows, caption=words("trial.one_by_one"), kind="stack"))


def _with_unit(name: str, unit: str) -> str:
    text = name[:1].upper() + name[1:]
    return f"{text}, {unit}" if unit else text


def else_section(trial: TrialRows, context: PageContext) -> Markup:
    """Whether only one thing changed."""
    sentences = else_sentences(trial.effect.to_dicts(), context.numbers)
    return section(context.words("trial.else_section.question"), sentences[0], *(paragraph(text) for text in sentences[1:]))


def cost_section(trial: TrialRows, context: PageContext) -> Markup:
    """Strokes a round by arm and course."""
    words, numbers = context.words, context.numbers
    if trial.strokes.is_empty():
        return section(words("trial.cost_section.question"), words("trial.cost_section.none"))
    ordered = trial.strokes.sort(pl.col("is_home").not_(), "course", "arm").to_dicts()
    heads = [
        Head(words("trial.arm"), first=True),
        Head(words("trial.course")),
        Head(words("trial.difference"), words("trial.per_round"), number=True),
        Head(words("trial.loss_if_kept"), words("trial.per_round"), number=True),
        Head(words("trial.loss_if_dropped"), words("trial.per_round"), number=True),
        Head(words("trial.worth_10"), words("trial.worth_unit"), number=True),
        Head(words("trial.worth_40"), words("trial.worth_unit"), number=True),
    ]
    rows: list[Cells] = [
        [
            row["arm"],
            course_name(row["course"], words),
            _ranged(numbers, "strokes", row, ("mean", "low", "high"), signed=True),
            *(
                numbers.bare("stroke_loss", row[name])
                for name in ("loss_if_kept", "loss_if_dropped", "value_of_10", "value_of_40")
            ),
        ]
        for row in ordered
    ]
    best = [row for row in ordered if row["arm"] == trial.result["best_arm"]] or ordered[:1]
    sentences = [cost_sentence(row, numbers) for row in best]
    listing = table(heads, rows, caption=words("trial.cost_section.question"), kind="stack")
    note = paragraph(words("trial.cost_section.note"), "quiet-note")
    return section(words("trial.cost_section.question"), sentences[0], bullets(sentences[1:]), listing, note)


def dose_section(trial: TrialRows, context: PageContext) -> Markup:
    """Whether more of the change does more; nothing with two arms."""
    speed = trial.dose.filter(pl.col("metric") == SPEED).to_dicts()
    if not speed:
        return Markup("")
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("trial.measurement"), first=True),
        Head(words("trial.per_step"), number=True),
        Head(words("trial.rising"), words("trial.chance"), number=True),
    ]
    order = {metric: place for place, metric in enumerate(QUANTITY_OF)}
    rows: list[Cells] = []
    for row in sorted(trial.dose.to_dicts(), key=lambda one: order.get(one["metric"], 99)):
        quantity = QUANTITY_OF.get(row["metric"], "ratio")
        name = _with_unit(metric_name(row["metric"], words), numbers.unit(quantity))
        rows.append([name, _ranged(numbers, quantity, row, ("mean", "low", "high"), signed=True), numbers.chance(row["rising"])])
    listing = folded(words, words("trial.step_by_step"), table(heads, rows, caption=words("trial.step_by_step")))
    return section(words("trial.dose_section.question"), dose_sentence(speed[0], numbers), listing)


def body_section(trial: TrialRows, context: PageContext) -> Markup:
    """Load and reports in the trial's weeks: the same words for every coach, by rating for the physio."""
    words, numbers, row = context.words, context.numbers, trial.result
    coach = context.audience == "coach"
    answer = words(f"trial.body_section.{'neutral' if coach else row['body_side']}")
    blocks: list[str | Markup] = []
    if row["load_ratio"] is not None and (not coach or context.academy.access.coach_sees_load):
        blocks.append(paragraph(words("trial.body_section.load", ratio=numbers.bare("ratio", row["load_ratio"]))))
    if not trial.body.is_empty():
        blocks.append(_ratings(trial, context))
    return section(words("trial.body_section.question"), answer, *blocks)


def _ratings(trial: TrialRows, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("trial.measurement"), first=True),
        Head(words("trial.before"), number=True),
        Head(words("trial.during"), number=True),
        Head(words("trial.answers"), number=True),
        Head(words("trial.raised"), words("trial.chance"), number=True),
    ]
    rows: list[Cells] = [
        [
            _rating_name(row["metric"], context),
            numbers.bare("rating", row["before"]),
            numbers.bare("rating", row["during"]),
            f"{words.number(row['n_before'], 0)} + {words.number(row['n_during'], 0)}",
            numbers.chance(row["raised"]),
        ]
        for row in trial.body.sort("raised", "metric", descending=[True, False]).to_dicts()
    ]
    return table(heads, rows, caption=words("trial.body_section.question"))


def _rating_name(metric: str, context: PageContext) -> str:
    words = context.words
    if metric.startswith("stiff_"):
        return f"{metric_name('stiffness', words)}, {region_name(metric.removeprefix('stiff_'), words)}".capitalize()
    return metric_name(metric, words).capitalize()


def since_section(trial: TrialRows, context: PageContext) -> Markup:
    """Whether the normal swing lies where it lay before."""
    words, rows = context.words, trial.since.to_dicts()
    answer = since_sentence(rows, words)
    if not rows or context.audience == "player":
        return section(words("trial.since_section.question"), answer)
    heads = [
        Head(words("trial.measurement"), first=True),
        Head(words("trial.before"), number=True),
        Head(words("trial.since"), number=True),
        Head(words("trial.matters"), number=True),
        Head(words("trial.within"), words("trial.chance"), number=True),
        Head(words("trial.state")),
    ]
    order = {metric: place for place, metric in enumerate(QUANTITY_OF)}
    ordered = sorted(rows, key=lambda row: (order.get(row["metric"], 99), row["metric"]))
    listing = table(
        heads, [_since_cells(row, context) for row in ordered], caption=words("trial.since_section.question"), kind="stack"
    )
    counts = [words.count("n.sessions", rows[0][side]) for side in ("n_before", "n_after")]
    device = rows[0]["device_id"] or words("flag.unnamed_device")
    told = words("trial.since_section.behind", before=counts[0], after=counts[1], device=device)
    note = paragraph(f"{told} {words('trial.since_section.note')}", "quiet-note")
    return section(words("trial.since_section.question"), answer, listing, note)


def _since_cells(row: dict[str, Any], context: PageContext) -> Cells:
    words, numbers = context.words, context.numbers
    metric = row["metric"]
    name = since_name(metric, words)
    more = words("trial.since_section.more", n=words.count("n.sessions", row["more_sessions"])) if row["more_sessions"] else ""
    state = Cell(words(f"trial.since_section.state_{row['state']}"), row["state"], more)
    if metric.endswith("_log_mad"):
        ratios = {key: math.exp(row[key]) for key in ("change", "low", "high", "margin")}
        change = _ranged(numbers, "ratio", ratios, ("change", "low", "high"))
        matters = numbers.bare("ratio", ratios["margin"])
        return [_with_unit(name, words("trial.times_normal")), "", change, matters, numbers.chance(row["within"]), state]
    quantity = QUANTITY_OF.get(metric, "ratio")
    return [
        _with_unit(name, numbers.unit(quantity)),
        numbers.bare(quantity, row["before"]),
        _ranged(numbers, quantity, row, ("change", "low", "high"), signed=True),
        numbers.bare(quantity, row["margin"]),
        numbers.chance(row["within"]),
        state,
    ]


def other_section(trial: TrialRows, context: PageContext) -> Markup:
    """The change beside the phases of the same months."""
    words, numbers = context.words, context.numbers
    rows = trial.alternative.sort(pl.col("kind") == "phase", "began_on", "name").to_dicts()
    if not any(row["kind"] == "phase" for row in rows):
        return section(words("trial.other_section.question"), words("trial.other_section.none"))
    heads = [
        Head(words("trial.what"), first=True),
        Head(words("trial.from")),
        Head(words("trial.until")),
        Head(words("trial.behind"), number=True),
        Head(words("trial.speed"), "%", number=True),
        Head(words("trial.scatter"), words("trial.times_normal"), number=True),
    ]
    cells: list[Cells] = [
        [
            words(f"trial.of_{row['kind']}", name=row["name"]),
            words.short_day(row["began_on"]),
            words.short_day(row["ended_on"]),
            words.count("n.shots" if row["kind"] == "change" else "n.sessions", row["n"]),
            _ranged(numbers, "percent", row, ("speed_pct", "speed_low_pct", "speed_high_pct"), signed=True),
            _ranged(numbers, "ratio", row, ("scatter_ratio", "scatter_low", "scatter_high")),
        ]
        for row in rows
    ]
    listing = table(heads, cells, caption=words("trial.other_section.question"), kind="stack")
    return section(words("trial.other_section.question"), words("trial.other_section.answer"), listing)


def how_section(context: PageContext) -> Markup:
    """How a trial is computed."""
    lines = context.words.lines("trial.how_section.lines")
    return section(context.words("trial.how_section.question"), "", bullets(lines))
