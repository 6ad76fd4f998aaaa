"""Data: what came, what was refused and what to do, who is missing, and whether devices agree.

Files and problems can tell of the body, by a name or by what was mistyped: they stand in the folder of whoever looks after the
data. The coach's page says who is missing, and whether devices agree.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.data import files_sentence, offset_sentence, problems_sentence, rule_name, suspicion_sentence
from reports.findings.problems import TOLD, Told, problem_text, says_a_sentence
from reports.markup import joined
from reports.numbers import DASH
from reports.pages.frame import Page
from reports.pages.groups import leads_by_group
from reports.pages.parts import bullets, folded, link, paragraph, section
from reports.tables import Cell, Head, breakable, day_cell, table
from schemas.core.trends import FEWEST_SHARERS
from schemas.natural_order import natural

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from reports.pages.context import PageContext
    from reports.words import Words
    from warehouse.marts import Marts

PATH, START = "data.html", "index.html"
WEEKS, MOST_PLAYERS, MOST_FILES, MOST_PROBLEMS, LONGEST_VALUE = 26, 40, 25, 200, 48
MOST_SUSPICIONS, WARNED_WEEKS = 20, 4
ABOUT_SOMEBODY = ("no_health_consent", "unknown_player")
"""Rules that a player breaks rather than a file: one answer brings all of it right."""


def _files_table(files: pl.DataFrame, context: PageContext) -> Markup:
    words = context.words
    heads = [
        Head(words("data.file"), first=True),
        Head(words("data.received")),
        Head(words("data.status")),
        *(Head(words(f"data.{name}"), number=True) for name in ("rows", "loaded", "waiting", "replaced")),
    ]
    rows: list[list[str | Cell]] = [
        [
            Cell(breakable(row["name"]), row["name"]),
            day_cell(words.short_day(row["received_at"].date()), row["received_at"]),
            _status(row, context),
            *(words.number(row[name], 0) for name in ("n_rows", "n_loaded", "n_quarantined", "n_replaced")),
        ]
        for row in files.iter_rows(named=True)
    ]
    return table(heads, rows, caption=words("data.files_caption"), sortable=True, kind="stack")


def _status(row: dict[str, Any], context: PageContext) -> Cell:
    words = context.words
    note = rule_name(row["reason"], words) if row["reason"] else breakable(row["replaced_by"] or "")
    return Cell(words.either(f"file_status.{row['status']}", row["status"]), row["status"], note)


def _what_came(files: pl.DataFrame, context: PageContext) -> Markup:
    words = context.words
    newest = files.sort("received_at", "name", descending=[True, False])
    unusual = newest.filter((pl.col("status") == "held") | (pl.col("n_open") > 0)).head(MOST_FILES)
    blocks: list[Markup] = []
    if unusual.height:
        blocks += [Markup("<h3>{}</h3>").format(words("data.to_look_at")), _files_table(unusual, context)]
    if newest.height:
        shown = newest.head(MOST_FILES)
        blocks.append(folded(words, words.count("data.newest", shown.height), _files_table(shown, context)))
    return section(words("data.came"), files_sentence(files, words), *blocks)


def _problem_rows(problems: pl.DataFrame) -> pl.DataFrame:
    """Open problems by file, column and rule; what somebody lacks is one, however many files tell of that player."""
    about = pl.when(pl.col("rule").is_in(ABOUT_SOMEBODY)).then(pl.struct("value"))
    named = pl.when(~pl.col("rule").is_in(ABOUT_SOMEBODY)).then(pl.struct("received_at", "name"))
    return (
        problems.filter(~pl.col("closed"))
        .sort("received_at", "name", "line", descending=[True, False, False], nulls_last=False)
        .group_by(named.alias("of_file"), about.alias("of_somebody"), "column", "rule", maintain_order=True)
        .agg(
            pl.len().alias("n"),
            pl.col("received_at", "name", "line", "value", "allowed", "hint").first(),
            pl.col("name").unique(maintain_order=True).alias("files"),
        )
        .sort("received_at", "name", "line", "column", "rule", descending=[True, False, False, False, False], nulls_last=False)
    )


def _problems_table(groups: pl.DataFrame, caption: str, context: PageContext) -> Markup:
    words = context.words
    heads = [
        Head(words("data.file"), first=True),
        Head(words("data.line"), number=True),
        Head(words("data.what")),
        Head(words("data.found")),
        Head(words("data.allowed")),
        Head(words("data.todo")),
    ]
    rows = [
        [
            Cell(breakable(row["name"]) + _other_files(row["files"][1:], context), row["name"]),
            Cell("" if row["line"] is None else words.number(row["line"], 0), row["line"], _more(row["n"], context)),
            Cell(rule_name(row["rule"], words), row["rule"], breakable(row["column"] or "")),
            Cell(_found(row, words)),
            *(Cell(problem_text(part, row["rule"], row[part], words).marked(words.language)) for part in TOLD),
        ]
        for row in groups.iter_rows(named=True)
    ]
    return table(heads, rows, caption=caption, sortable=True, kind="stack problems")


def _found(row: dict[str, Any], words: Words) -> Markup:
    """What the intake says of a whole file, or the beginning of what stood in a cell; the quarantine list has all of it."""
    told = problem_text("found", row["rule"], row["value"], words)
    cut = not says_a_sentence(row["rule"]) and len(told.text) > LONGEST_VALUE
    shown = Told(f"{told.text[:LONGEST_VALUE]}…" if cut else told.text, told.language)
    if shown.language:
        return shown.marked(words.language)
    return Markup('<span class="raw">{}</span>').format(breakable(shown.text))


def _other_files(names: list[str], context: PageContext) -> Markup:
    """Older files with the same problem, folded away."""
    if not names:
        return Markup("")
    words, shown = context.words, [breakable(name) for name in names[:MOST_FILES]]
    rest = [words.count("data.and_more", len(names) - MOST_FILES)] if len(names) > MOST_FILES else []
    return folded(words, words.count("data.in_other_files", len(names)), bullets([*shown, *rest]))


def _more(n: int, context: PageContext) -> str:
    return context.words.count("data.and_more", n - 1) if n > 1 else ""


def _what_was_refused(problems: pl.DataFrame, context: PageContext) -> Markup:
    words, groups = context.words, _problem_rows(problems.filter(pl.col("severity") != "warning"))
    said = problems_sentence(groups.height, int(groups["n"].sum()), words)
    if groups.is_empty():
        return section(words("data.refused"), said)
    note = paragraph(words("data.how_to_correct"))
    return section(words("data.refused"), said, note, *_problems(groups, MOST_PROBLEMS, "data.problems_caption", context))


def _what_looks_odd(problems: pl.DataFrame, files: pl.DataFrame, context: PageContext) -> Markup | str:
    """Warnings about rows that are loaded all the same, of files of late: older ones were seen, and ask for no answer."""
    words, since = context.words, context.as_of - timedelta(weeks=WARNED_WEEKS)
    loaded = files.filter(pl.col("status") == "loaded", pl.col("received_at").dt.date() > since)
    groups = _problem_rows(problems.filter(pl.col("severity") == "warning").join(loaded, on="file_id", how="semi"))
    if groups.is_empty():
        return ""
    said = words.count("data.odd_said", int(groups["n"].sum()), weeks=words.number(WARNED_WEEKS, 0))
    return section(words("data.odd"), said, *_problems(groups, MOST_FILES, "data.odd_caption", context), anchor="odd")


def _problems(groups: pl.DataFrame, most: int, caption: str, context: PageContext) -> list[Markup]:
    words, rest = context.words, groups.height - most
    shown = _problems_table(groups.head(most), words(caption), context)
    return [shown] if rest <= 0 else [shown, paragraph(words.count("data.rest", rest), "quiet-note")]


def _here(marts: Marts, context: PageContext) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The players who are still here, those with most empty weeks of the last half year first; and these weeks."""
    first = context.as_of - timedelta(weeks=WEEKS)
    here = marts.rows("mart_player").filter(~pl.col("has_left")).select("player_id", "alias")
    weeks = marts.rows("mart_coverage").filter(pl.col("week_on") > first, pl.col("week_on") <= context.as_of)
    came = weeks.filter(pl.col("n_session_days") + pl.col("n_answer_days").fill_null(0) > 0).group_by("player_id").len("n_weeks")
    order = (
        here.join(came, on="player_id", how="left")
        .with_columns(pl.col("n_weeks").fill_null(0))
        .sort("n_weeks", natural("alias"), "player_id")
    )
    return order, weeks


def _coverage_table(rows: pl.DataFrame, context: PageContext) -> Markup:
    words = context.words
    heads = [
        Head(words("squad.player"), first=True),
        *(Head(words(f"data.{name}"), number=True) for name in ("weeks", "days", "answered")),
    ]
    answered = pl.when(pl.col("n_answer_days").is_not_null().any()).then(pl.col("n_answer_days").sum())
    totals = rows.group_by("player_id", "alias", "n_weeks", maintain_order=True).agg(
        pl.col("n_session_days").sum(), answered.alias("n_answer_days")
    )
    cells = [
        [_named(row, context), *(words.number(row[name], 0) for name in ("n_weeks", "n_session_days")), _answered(row, context)]
        for row in totals.iter_rows(named=True)
    ]
    return table(heads, cells, caption=words("data.coverage_table"))


def _named(row: dict[str, Any], context: PageContext) -> str | Markup:
    """The player's name; for the coach with the way to the player's page, by which the choice of a group knows the row."""
    alias = str(row["alias"])
    return link(context.href(PATH, context.player_path(row["player_id"])), alias) if context.audience == "coach" else alias


def _answered(row: dict[str, Any], context: PageContext) -> str:
    """Days answered; whoever does not share them has no number, and of somebody from whom nothing came nobody can say."""
    n = row["n_answer_days"]
    if n is None:
        return context.words("squad.not_shared") if row["n_weeks"] else DASH
    return context.words.number(n, 0)


def _who_is_missing(marts: Marts, context: PageContext) -> Markup:
    words = context.words
    here, weeks = _here(marts, context)
    if here.is_empty():
        return section(words("data.coverage"), words("data.no_players"))
    if weeks.is_empty():
        return section(words("data.coverage"), words("data.coverage_nothing"))
    shown = here.head(MOST_PLAYERS)
    rows = shown.join(weeks, on="player_id", how="left", maintain_order="left").sort("n_weeks", natural("alias"), "week_on")
    n_weeks = _known_weeks(weeks, context)
    said = _coverage_said(shown, here.height, n_weeks, context)
    by_group = leads_by_group(marts, lambda ids: _coverage_of(ids, here, n_weeks, context))
    drawn = rows.filter(pl.col("week_on").is_not_null()).select(
        "alias",
        of="player_id",
        week="week_on",
        days="n_session_days",
        answers="n_answer_days",
    )
    if drawn.is_empty():
        return section(words("data.coverage"), said, by_group=by_group)
    figure = context.figure(
        "coverage",
        {"rows": drawn},
        title=words.count("data.coverage_title", n_weeks),
        caption=words("data.coverage_caption"),
        alt=words("data.coverage_alt", weeks=words.count("n.weeks", n_weeks), n=words.number(shown.height, 0)),
        table=_coverage_table(rows, context),
    )
    return section(words("data.coverage"), said, figure, anchor="coverage", by_group=by_group)


def _known_weeks(weeks: pl.DataFrame, context: PageContext) -> int:
    """How many weeks there are of the academy, up to the last: half a year at most, and fewer where it has just begun."""
    began_on = weeks["week_on"].min()
    return WEEKS if not isinstance(began_on, date) else min(WEEKS, (context.as_of - began_on).days // 7 + 1)


def _coverage_of(ids: set[str], here: pl.DataFrame, n_weeks: int, context: PageContext) -> str:
    """What is said of the members of a group: those of them who are shown, and how many are not."""
    theirs = pl.col("player_id").is_in(sorted(ids))
    n_members, shown = here.filter(theirs).height, here.head(MOST_PLAYERS).filter(theirs)
    return _coverage_said(shown, n_members, n_weeks, context) if n_members else context.words("data.no_players_of_group")


def _coverage_said(shown: pl.DataFrame, n_here: int, n_weeks: int, context: PageContext) -> str:
    words = context.words
    full = shown.filter(pl.col("n_weeks") >= max(1, n_weeks - 2)).height
    whose = words.number(full, 0) if full else words("data.coverage_none")
    said = words.count("data.coverage_said", n_weeks, full=whose, shown=words.number(shown.height, 0))
    rest = n_here - shown.height
    return f"{said} {words.count('data.coverage_rest', rest)}" if rest else said


def _reads(marts: Marts, context: PageContext, device: Mapping[str, Any]) -> Markup | str:
    """What a device reads above the one it is compared with, or why that cannot be told."""
    words = context.words
    offsets = marts.rows("mart_device_offset").filter(pl.col("device_id") == device["device_id"])
    latest = offsets.sort("metric", "from_on").unique("metric", keep="last", maintain_order=True)
    if latest.height:
        return bullets([offset_sentence(row, context.numbers) for row in latest.iter_rows(named=True)])
    if device["is_yardstick"]:
        return words("data.is_yardstick")
    if 0 < device["n_tied"] < FEWEST_SHARERS:
        return words.count("data.few_tied", device["n_tied"], least=words.number(FEWEST_SHARERS, 0))
    return words("data.no_offset" if device["n_tied"] else "data.untied")


def _do_devices_agree(marts: Marts, context: PageContext) -> Markup:
    words, devices = context.words, marts.rows("mart_device")
    if devices.is_empty():
        return section(words("data.devices"), words("data.no_devices"), anchor="devices")
    heads = [
        Head(words("data.device"), first=True),
        *(Head(words(f"data.{name}"), number=True) for name in ("sessions", "shots", "players")),
        Head(words("data.last_used")),
        Head(words("data.reads")),
    ]
    rows = [
        [
            row["device_id"],
            *(words.number(row[name], 0) for name in ("n_sessions", "n_shots", "n_players")),
            day_cell(words.short_day(row["last_on"]), row["last_on"]),
            Cell(_reads(marts, context, row)),
        ]
        for row in devices.sort(natural("device_id")).iter_rows(named=True)
    ]
    untold = devices.height > 1 and marts.rows("mart_device_offset").is_empty()
    said = words("data.devices_untold", n=devices.height) if untold else words.count("data.devices_said", devices.height)
    return section(words("data.devices"), said, table(heads, rows, caption=words("data.devices"), kind="stack"), anchor="devices")


def _which_were_suspected(marts: Marts, context: PageContext) -> Markup | str:
    """Suspicions of devices, the newest first: also those that are closed, with what was said of them since."""
    words, rows = context.words, marts.rows("mart_device_suspicion")
    if marts.rows("mart_device").is_empty():
        return ""
    if rows.is_empty():
        return section(words("data.suspected.title"), words("data.suspected.none"), anchor="suspected")
    newest = rows.sort(pl.col("raised_on"), "flag_id", descending=[True, False]).head(MOST_SUSPICIONS)
    told = [suspicion_sentence(row, context.numbers) for row in newest.iter_rows(named=True)]
    return section(words("data.suspected.title"), "", bullets(told), anchor="suspected")


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """Everything about the data for whoever looks after it; for the coach who is missing, and whether devices agree."""
    words = context.words
    if marts.audience == "coach":
        body = joined(make(marts, context) for make in (_who_is_missing, _do_devices_agree, _which_were_suspected))
        yield Page(PATH, words("data.title"), body, lead=words("data.coach_lead"), nav="data.title", order=70)
    if marts.audience == "data":
        files, problems = marts.rows("mart_file"), marts.rows("mart_problem")
        body = joined(
            [
                _what_was_refused(problems, context),
                _what_looks_odd(problems, files, context),
                _what_came(files, context),
                _who_is_missing(marts, context),
                _do_devices_agree(marts, context),
                _which_were_suspected(marts, context),
            ]
        )
        yield Page(START, words("data.title"), body, lead=files_sentence(files, words), nav="data.title", order=10)
