"""The shot sheet of a planned trial: one page to print, with room for what was felt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup

from reports.findings.ball import course_phrase
from reports.markup import joined
from reports.pages.frame import Page, single
from reports.pages.parts import bullets, paragraph, section
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from reports.pages.context import PageContext
    from schemas.trial_sheet import SheetShot, ShotSheet


def sheet_page(sheet: ShotSheet, context: PageContext) -> str:
    """The sheet as one HTML file without scripts; ``context`` must have been made ``with_scripts=False``."""
    words = context.words
    changed = [arm for arm in sheet.arms if arm != sheet.normal_arm]
    total = sum(shot.counts for shot in sheet.shots)
    page = Page(
        path="sheet.html",
        title=words("sheet.title"),
        body=joined([_rules(context), *(_day(sheet, day, context) for day in range(1, sheet.n_days + 1)), _can(sheet, context)]),
        lead=words(
            "sheet.lead",
            question=sheet.question[:1].upper() + sheet.question[1:],
            shots=words.count("n.shots", total),
            days=words.count("n.days", sheet.n_days),
            arms=words.listing([sheet.normal_arm, *changed]),
        ),
        above=words("sheet.above", alias=sheet.alias, id=sheet.trial_id),
        kind="sheet",
    )
    return single(page, context)


def _rules(context: PageContext) -> Markup:
    return bullets(context.words.lines("sheet.rules"))


def _day(sheet: ShotSheet, day: int, context: PageContext) -> Markup:
    words = context.words
    heads = [
        Head(words("sheet.shot"), number=True, first=True),
        Head(words("sheet.block"), number=True),
        Head(words("sheet.arm")),
        Head(words("sheet.felt"), words("sheet.felt_hint")),
        Head(words("sheet.note")),
    ]
    rows = [_line(shots, sheet, context) for shots in _blocks([shot for shot in sheet.shots if shot.day_no == day])]
    blanks = Markup("").join(
        Markup('<div><p>{}</p><div class="write"></div></div>').format(words(key)) for key in ("sheet.date", "sheet.device")
    )
    listing = table(heads, rows, caption=words("sheet.day", n=day))
    return Markup(
        '<section class="sheet-side"><h2>{}</h2><div class="matter"><div class="write-row">{}</div>{}</div></section>'
    ).format(words("sheet.day", n=day), blanks, listing)


def _blocks(shots: list[SheetShot]) -> list[list[SheetShot]]:
    """Shots of one block together, in their order."""
    found: list[list[SheetShot]] = []
    for shot in shots:
        if found and found[-1][0].block_no == shot.block_no:
            found[-1].append(shot)
        else:
            found.append([shot])
    return found


def _line(shots: list[SheetShot], sheet: ShotSheet, context: PageContext) -> list[str | Cell]:
    words, first = context.words, shots[0]
    numbers = f"{first.shot_no}\N{EN DASH}{shots[-1].shot_no}"
    if first.arm is None:
        return [numbers, "", words("sheet.warm_up"), "", ""]
    arm = words("sheet.closing", arm=first.arm) if first.closing else first.arm
    boxes = "  ".join("___" for _ in shots)
    shown = Cell(Markup("<strong>{}</strong>").format(arm)) if first.arm != sheet.normal_arm else arm
    return [numbers, str(first.block_no), shown, boxes, "_" * 12]


def _can(sheet: ShotSheet, context: PageContext) -> Markup:
    """What this number of shots can and cannot show, in words and as a small table."""
    words, numbers, own = context.words, context.numbers, sheet.own_power
    sentences = [
        words("sheet.scatter_can", ratio=words.number(own.smallest_scatter, 1), n=words.number(sheet.shots_for_fifth, 0)),
        words("sheet.proposed", n=sheet.proposed)
        if sheet.shots_per_arm >= sheet.proposed
        else words("sheet.fewer", n=sheet.proposed),
    ]
    if own.smallest_strokes is not None:
        course = course_phrase(sheet.course, words)
        sentences.insert(1, words("sheet.strokes_can", course=course, strokes=words.number(own.smallest_strokes, 1)))
    if sheet.assumed:
        named = words.listing([words(f"sheet.assumed_{part}") for part in sheet.assumed])
        sentences.append(words("sheet.assumed", what=named))
    speed = words(
        "sheet.speed_can",
        gain=numbers.with_unit("percent", own.smallest_speed_pct),
        twice=numbers.with_unit("percent", 2.0 * sheet.worth_pct),
        chance=numbers.chance(own.chance_of_twice),
    )
    seed = paragraph(words("sheet.seed", seed=sheet.seed), "quiet-note")
    return section(words("sheet.can"), speed, bullets(sentences), _power(sheet, context), seed)


def _power(sheet: ShotSheet, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("sheet.power"), number=True, first=True),
        Head(words("sheet.power_speed"), "%", number=True),
        Head(
            words("sheet.power_twice", twice=numbers.with_unit("percent", 2.0 * sheet.worth_pct)),
            words("trial.chance"),
            number=True,
        ),
        Head(words("sheet.power_scatter"), words("trial.times_normal"), number=True),
        Head(words("sheet.power_strokes"), words("trial.per_round"), number=True),
    ]
    rows: list[list[str | Cell]] = [
        [
            Cell(Markup("<strong>{}</strong>").format(line.shots_per_arm))
            if line is sheet.own_power
            else str(line.shots_per_arm),
            numbers.bare("percent", line.smallest_speed_pct),
            numbers.chance(line.chance_of_twice),
            words.number(line.smallest_scatter, 1),
            numbers.bare("stroke_loss", line.smallest_strokes),
        ]
        for line in sheet.power
    ]
    return table(heads, rows, caption=words("sheet.can"))
