"""Trade-off map: what speed and scatter are worth on the course, for the squad on one page and for each player on theirs."""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.ball import (
    break_even_sentence,
    course_name,
    course_phrase,
    detail_sentence,
    moved_sentence,
    verdict,
    worth_sentence,
    worth_told,
)
from reports.findings.flags import capital
from reports.markup import joined
from reports.pages.frame import Page, Part
from reports.pages.parts import bullets, evidence, link, paragraph, section
from reports.pages.tradeoff_figure import map_figure
from reports.pages.tradeoff_squad import StrokeLines, in_the_middle, squad_sets
from reports.story import record_of
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from reports.numbers import Numbers
    from reports.pages.context import PageContext
    from warehouse.marts import Marts, PlayerMarts

PATH = "tradeoff.html"
DEFAULTS = ("open", "tree-lined")
"""The two courses that always stand side by side."""
LOSSES = ("rough", "trees", "water", "out_of_bounds")

Row = dict[str, Any]


def newest_strokes(rows: Sequence[Row]) -> list[Row]:
    """The newest month of each player and course."""
    ordered = sorted(rows, key=itemgetter("player_id", "course", "month_on"))
    return list({(row["player_id"], row["course"]): row for row in ordered}.values())


def in_order(rows: Sequence[Row], home: str) -> list[Row]:
    """The course that counts first, then the two defaults."""
    wanted = list(dict.fromkeys((home, *DEFAULTS)))
    return [row for name in wanted for row in rows if row["course"] == name]


def _pair(figures: Sequence[Markup]) -> Markup:
    return Markup('<div class="pair">{}</div>').format(joined(figures))


def _with_interval(row: Row, name: str, numbers: Numbers) -> Cell:
    """A number of strokes, with its 90 % interval below it where it is known; a change with its sign."""
    is_change, low, high = name == "change", row[f"{name}_low"], row[f"{name}_high"]
    note = "" if low is None or high is None else numbers.interval("strokes", low, high, signed=is_change)
    return Cell(numbers.bare("strokes", row[name], signed=is_change), note=note)


def _course_table(rows: Sequence[Row], context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    per_round = words("tradeoff.per_round", n=words.number(rows[0]["n_tee_shots"], 0))
    heads = [
        Head(words("tradeoff.course"), first=True),
        Head(words("tradeoff.strokes_round"), per_round, number=True),
        Head(words("tradeoff.clean"), words("tradeoff.clean_unit"), number=True),
        *(Head(words(f"tradeoff.{loss}"), number=True) for loss in LOSSES),
        Head(words("tradeoff.fairway"), "%", number=True),
        Head(words("tradeoff.change"), words("tradeoff.against"), number=True),
    ]
    cells = [
        [
            capital(course_name(row["course"], words)),
            _with_interval(row, "per_round", numbers),
            words.number(row["clean_per_round"], 1),
            *(words.number(row[f"{loss}_per_round"], 1, signed=True) for loss in LOSSES),
            numbers.bare("share", row["fairway_share"]),
            "" if row["change"] is None else _with_interval(row, "change", numbers),
        ]
        for row in rows
    ]
    return table(heads, cells, caption=words("tradeoff.table"), show_caption=True, kind="stack")


def _evidence(player: PlayerMarts, rows: Sequence[Row], context: PageContext) -> list[str | Markup]:
    moved = moved_sentence(rows[0], context.numbers) if verdict(rows[0]) != "none" else ""
    both = _pair([map_figure(player, context, row) for row in rows if row["course"] in DEFAULTS])
    notes = [paragraph(context.words(key), "quiet-note") for key in ("ball.reading", "tradeoff.reference")]
    own = [map_figure(player, context, row) for row in rows if row["course"] not in DEFAULTS]
    if context.audience == "player":
        return [*([paragraph(moved)] if moved else []), *own, both, *notes]
    evens = in_order(player.listed("mart_break_even"), context.home_course(player))
    said = [moved, detail_sentence(rows, context.numbers), break_even_sentence(evens, context.numbers)]
    words = context.words
    behind = [both, _course_table(rows, context), *notes] if own else [_course_table(rows, context), *notes]
    shown = own or [both]
    return [*(paragraph(text) for text in said if text), *shown, evidence(words("player.other_courses"), *behind)]


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 40: what the player's drives cost, and the maps."""
    if player.listed("mart_stroke_month"):
        reader = "own" if context.audience == "player" else "other"
        yield player.once(("cost", reader), lambda: _cost(player, context))


def _cost(player: PlayerMarts, context: PageContext) -> Part:
    rows = in_order(newest_strokes(player.listed("mart_stroke_month")), context.home_course(player))
    question = context.words("tradeoff.own_question" if context.audience == "player" else "tradeoff.question")
    worth = worth_told(rows, context.numbers, is_past=record_of(player).is_past)
    body = section(question, worth, *_evidence(player, rows, context), anchor="cost")
    return Part(40, body, label="cost")


def _by_player(rows: Sequence[Row], homes: Mapping[str, str]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        if row["player_id"] in homes:
            found.setdefault(row["player_id"], []).append(row)
    return {player_id: in_order(own, homes[player_id]) for player_id, own in found.items()}


def _newest_of_all(rows: pl.DataFrame) -> list[Row]:
    """The newest month of each player and course, of many players."""
    return (
        rows.sort("player_id", "course", "month_on").unique(["player_id", "course"], keep="last", maintain_order=True).to_dicts()
    )


def _on(rows: Sequence[Row], course: str) -> Row | None:
    return next((row for row in rows if row["course"] == course), None)


def _counts(rows: Sequence[Mapping[str, Any]]) -> dict[str, int]:
    return {kind: sum(verdict(row) == kind for row in rows) for kind in ("saves", "costs", "open")}


def _squad_map(
    rows: Sequence[Row], course: str, names: Mapping[str, str], context: PageContext, lines: StrokeLines | None = None
) -> Markup:
    words = context.words
    phrase = course_phrase(course, words)
    counted = {kind: words.number(n, 0) for kind, n in _counts(rows).items()}
    sets = squad_sets(rows, names, context.numbers.quantity("speed").factor, context.words, lines)
    n_clear, n_named = sum(verdict(row) != "open" for row in rows), sets["named"].height
    all_named = words("tradeoff.all_named") if n_clear else ""
    named = all_named if n_clear == n_named else words("tradeoff.most_named", n=words.number(n_named, 0))
    whose = words("tradeoff.lines_of", alias=names[lines.player_id], course=phrase) if lines else ""
    return context.figure(
        "tradeoff_squad",
        sets,
        title=capital(words("tradeoff.map_title", course=phrase)),
        caption=" ".join(filter(None, (capital(words("tradeoff.squad_caption", course=phrase, **counted)), named, whose))),
        alt=words("tradeoff.squad_alt", course=phrase, n=words.number(len(rows), 0), **counted),
        table=None,
    )


def _home_lines(marts: Marts, rows: Sequence[Row], course: str) -> StrokeLines | None:
    """The lines of equal strokes of the player who stands in the middle of the squad."""
    player_id = in_the_middle(rows)
    lines = marts.rows_of([player_id], frozenset({"mart_tradeoff_line"}))["mart_tradeoff_line"].filter(pl.col("course") == course)
    return StrokeLines(player_id, lines) if lines.height else None


def _squad_table(
    players: Mapping[str, list[Row]],
    evens: Mapping[tuple[str, str], Row],
    names: Mapping[str, str],
    homes: Sequence[str],
    context: PageContext,
) -> Markup:
    words, numbers = context.words, context.numbers
    several = len(homes) > 1
    courses = [*([] if several else homes), *(name for name in DEFAULTS if several or name not in homes)]
    own_home = [Head(capital(words("tradeoff.home")), words("ball.strokes", n="").strip(), number=True)] if several else []
    first = next(iter(evens.values()), None)
    gain = numbers.with_unit("speed", first["speed_gain_mps"]) if first else ""
    heads = [
        Head(words("tradeoff.player"), first=True),
        Head(words("tradeoff.speed"), numbers.unit("speed"), number=True),
        Head(words("tradeoff.scatter"), numbers.unit("angle"), number=True),
        *own_home,
        *(Head(capital(course_name(course, words)), words("ball.strokes", n="").strip(), number=True) for course in courses),
        Head(words("tradeoff.may_cost"), words("tradeoff.may_cost_unit", gain=gain), number=True),
    ]
    rows = [_squad_cells(player_id, own, courses, evens, names, several, context) for player_id, own in players.items()]
    return table(heads, rows, caption=words("tradeoff.table_caption"), sortable=True, kind="stack people")


def _squad_cells(
    player_id: str,
    own: Sequence[Row],
    courses: Sequence[str],
    evens: Mapping[tuple[str, str], Row],
    names: Mapping[str, str],
    several: bool,
    context: PageContext,
) -> list[str | Cell]:
    words, numbers, row = context.words, context.numbers, own[0]
    name = link(context.href(PATH, f"{context.player_path(player_id)}#cost"), names[player_id])
    even = evens.get((player_id, row["course"]))
    price = even["scatter_price_deg"] if even else None
    return [
        Cell(name, names[player_id], capital(course_name(row["course"], words)) if several else ""),
        _changed(numbers.bare("speed", row["recent_speed_mps"]), row["change_speed_mps"], "speed", context),
        _changed(numbers.bare("angle", row["recent_scatter_deg"]), row["change_scatter_deg"], "angle", context),
        *([_stroke_cell(row, context)] if several else []),
        *(_stroke_cell(_on(own, course), context) for course in courses),
        Cell(numbers.bare("angle", price), price) if even else Cell(words("numbers.n", n=0)),
    ]


def _changed(value: str, change: float | None, quantity: str, context: PageContext) -> Cell:
    note = "" if change is None else context.numbers.bare(quantity, change, signed=True)
    return Cell(value, change, note)


def _stroke_cell(row: Row | None, context: PageContext) -> Cell:
    if row is None or row["change"] is None:
        return Cell(context.numbers.bare("strokes", None))
    note = context.words.ends(row["change_low"], row["change_high"], 1)
    return Cell(context.words.number(row["change"], 1, signed=True), row["change"], note)


def _flips(players: Mapping[str, list[Row]], names: Mapping[str, str], context: PageContext) -> Markup:
    items = []
    for player_id, rows in players.items():
        pair = [row for row in rows if row["course"] in DEFAULTS]
        if {verdict(row) for row in pair} >= {"saves", "costs"}:
            name = link(context.href(PATH, f"{context.player_path(player_id)}#cost"), names[player_id])
            sentence = worth_sentence(pair, context.numbers)
            items.append(Markup("<strong>{}</strong>: {}").format(name, sentence))
    return bullets(items) if items else paragraph(context.words("tradeoff.flip_none"))


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The squad's trade-off map, for the coach."""
    if marts.audience != "coach":
        return
    words, by_player = context.words, context.home_courses(marts)
    names = dict(marts.rows("mart_player").select("player_id", "alias").iter_rows())
    players = _by_player(_newest_of_all(marts.rows("mart_stroke_month")), by_player)
    compared = {player_id: rows for player_id, rows in players.items() if verdict(rows[0]) != "none"}
    if not compared:
        yield Page(PATH, words("tradeoff.title"), joined([]), lead=words("tradeoff.nobody"), nav="tradeoff.title", order=30)
        return
    homes = sorted({rows[0]["course"] for rows in compared.values()}, key=lambda name: (name != context.academy.course, name))
    evens = {(row["player_id"], row["course"]): row for row in marts.rows("mart_break_even").to_dicts()}
    placed = {
        course: [row for rows in compared.values() if (row := _on(rows, course)) and row["recent_speed_mps"]]
        for course in dict.fromkeys((*homes, *DEFAULTS))
    }
    drawn = {course: rows for course, rows in placed.items() if rows}
    at_home = [
        _squad_map(drawn[course], course, names, context, _home_lines(marts, drawn[course], course))
        for course in homes
        if course in drawn
    ]
    elsewhere = [_squad_map(rows, course, names, context) for course, rows in drawn.items() if course not in homes]
    others = evidence(words("player.other_courses"), *([_pair(elsewhere)] if elsewhere else []))
    counted = {kind: words.count("tradeoff.players", n) for kind, n in _counts([rows[0] for rows in compared.values()]).items()}
    body = joined(
        [
            section(words("tradeoff.map_section"), words("tradeoff.map_answer"), *at_home, others),
            section(words("tradeoff.flip_section"), "", _flips(compared, names, context)),
            section(words("tradeoff.table_section"), "", _squad_table(compared, evens, names, homes, context)),
            paragraph(words("tradeoff.reference"), "quiet-note"),
        ]
    )
    home = course_phrase(homes[0], words) if len(homes) == 1 else words("tradeoff.each_home")
    lead = words("tradeoff.lead", course=home, **counted)
    yield Page(PATH, words("tradeoff.title"), body, lead=lead, nav="tradeoff.title", order=30)
