"""Commands about flags: flags, explain, decide."""

from __future__ import annotations

import json
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption, pasted, today_at
from pipelines.cli.screen import Screen

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl

    from pipelines.stages.explain import Explanation
    from pipelines.workspace import Workspace
    from schemas.academy import Academy

FLAG_COLUMNS = (
    "flag_id", "player_id", "kind", "level", "raised_on", "closed_on", "metric", "region", "value", "baseline",
    "interval_low", "interval_high", "headline",
)  # fmt: skip
"""Columns of the csv and json forms, in this order; new ones are only ever added at the end."""

_TABLE_COLUMNS = ("flag_id", "level", "player_id", "kind", "raised_on", "closed_on", "headline")

FlagArgument = Annotated[str, typer.Argument(metavar="FLAG_ID", help="As listed by `speedworth flags`.", show_default=False)]


class Form(StrEnum):
    """How a listing is written."""

    TABLE = "table"
    CSV = "csv"
    JSON = "json"


class Role(StrEnum):
    """Who decides."""

    COACH = "coach"
    PHYSIO = "physio"


def _day(value: datetime | None) -> date | None:
    return value.date() if value is not None else None


def flags(
    form: Annotated[Form, typer.Option("--format", help="How to write the list.")] = Form.TABLE,
    closed_too: Annotated[bool, typer.Option("--all", help="Closed flags too.")] = False,
    player_id: Annotated[str, typer.Option("--player", metavar="ID", help="Of one player only.")] = "",
    since: Annotated[datetime | None, typer.Option("--since", metavar="DATE", formats=["%Y-%m-%d"], help="Raised since.")] = None,
    on: Annotated[
        datetime | None, typer.Option("--on", metavar="DATE", formats=["%Y-%m-%d"], help="As they stood that night.")
    ] = None,
    reader: Annotated[
        Role | None, typer.Option("--for", help="Only what this reader may see.", show_default="everything")
    ] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """List open flags, most recent last. A flag means: look and ask.

    csv and json hold: flag_id, player_id, kind, level, raised_on, closed_on, metric, region, value, baseline, interval_low,
    interval_high, headline. Values are in SI units; the headline is in the academy's.
    """
    from pipelines.stages.explain import FlagQuery, listed_flags
    from pipelines.workspace import find_workspace
    from warehouse.connection import open_warehouse
    from warehouse.persons import require_player

    found = find_workspace(workspace)
    academy = found.academy()
    with open_warehouse(found.warehouse, read_only=True) as con:
        if player_id:
            require_player(con, player_id)
        rows = listed_flags(con, FlagQuery(closed_too, player_id, _day(since), _day(on), reader.value if reader else ""))
    _write(Screen(quiet), _with_headline(rows, academy), form)


def _with_headline(rows: pl.DataFrame, academy: Academy) -> list[dict[str, Any]]:
    from reports.findings.flags import flag_sentence
    from reports.words import words

    spoken = words(academy.language)
    return [
        row | {"interval_low": row["low"], "interval_high": row["high"], "headline": flag_sentence(row, spoken, academy.units)}
        for row in rows.to_dicts()
    ]


def _write(screen: Screen, rows: list[dict[str, Any]], form: Form) -> None:
    import polars as pl

    from schemas.spreadsheet import csv_of

    if form is Form.JSON:
        screen.result(
            json.dumps([{name: row[name] for name in FLAG_COLUMNS} for row in rows], indent=1, default=str, ensure_ascii=False)
        )
    elif form is Form.CSV:
        texts = [{name: None if row[name] in {None, ""} else str(row[name]) for name in FLAG_COLUMNS} for row in rows]
        screen.result(csv_of(pl.DataFrame(texts, schema=dict.fromkeys(FLAG_COLUMNS, pl.String))).rstrip("\n"))
    elif rows:
        screen.table(_TABLE_COLUMNS, [[row[name] for name in _TABLE_COLUMNS] for row in rows])
    else:
        screen.remark("No flags.")


def explain(
    flag_id: Annotated[
        str,
        typer.Argument(
            metavar="FLAG_ID", help="As listed by `speedworth flags`; or the name of a file, or of a problem.", show_default=False
        ),
    ],
    reader: Annotated[
        Role | None, typer.Option("--for", help="Only what this reader may see.", show_default="everything")
    ] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Walk from a flag's sentence to the numbers, the baseline, the sessions, the files and lines.

    Of a file: what became of it, what is wrong in which line, and what to do.
    """
    from pipelines.stages.explain import explained
    from pipelines.workspace import find_workspace
    from schemas.errors import NotFoundError
    from warehouse.connection import open_warehouse

    found = find_workspace(workspace)
    academy = found.academy()
    with open_warehouse(found.warehouse, read_only=True) as con:
        try:
            explanation = explained(con, flag_id, reader.value if reader else "")
        except NotFoundError:
            told = [] if reader else _else_told(con, found, flag_id, academy)
            if not told and not reader and (near := _near_files(con, flag_id)):
                raise NotFoundError(f"There is no flag {flag_id}, and no file.", f"Did you mean {' or '.join(near)}?") from None
            if not told:
                raise
            for line in told:
                Screen(quiet).result(line)
            return
    _show_explanation(Screen(quiet), explanation, academy)


def _near_files(con: duckdb.DuckDBPyConnection, named: str) -> list[str]:
    from pipelines.stages.intake.again import names_like

    return names_like(con, named) if named.strip() else []


def _else_told(con: duckdb.DuckDBPyConnection, workspace: Workspace, named: str, academy: Academy) -> list[str]:
    """What is said of a file, a player or a problem of that name; nothing where there is none."""
    from pipelines.stages.explain_else import explained_file, explained_problem, is_player
    from reports.findings.explained_file import file_told, problem_told
    from reports.words import words

    if not named.strip():
        return []
    spoken = words(academy.language)
    if file := explained_file(con, workspace.root, named):
        return file_told(file.file, file.problems, file.listed, spoken)
    if is_player(con, named):
        return [f"{named} is a player. Their flags: speedworth flags --player {named} -w {pasted(workspace.root)}"]
    return [problem_told(code, allowed, hint, spoken) for code, allowed, hint in explained_problem(named)]


def _show_explanation(screen: Screen, explanation: Explanation, academy: Academy) -> None:
    from reports.findings.explained import events_told, norms_told, origins_told, points_told, reasons_told
    from reports.findings.flags import capital, flag_evidence, flag_sentence, metric_name
    from reports.numbers import Numbers
    from reports.words import words

    spoken, flag, rule = words(academy.language), explanation.flag, explanation.rule
    numbers = Numbers(spoken, academy.units)
    screen.result(f"{flag['alias'] or flag['device_id']}: {flag_sentence(flag, spoken, academy.units)}")
    screen.result(flag_evidence(flag, spoken, academy.units))
    for reason in reasons_told(flag, numbers):
        screen.result(f"- {reason}")
    for name in ("reads", "opens", "closes"):
        told = spoken.either(f"explain.rule.{rule.kind}.{name}", getattr(rule, name))
        screen.result(spoken(f"explain.{name}", rule=told))
    if explanation.norms is not None:
        screen.result(norms_told(explanation.norms, numbers))
    metric = capital(metric_name(flag["metric"], spoken))
    for title, (headers, rows) in (
        (spoken("explain.events_title"), events_told(flag, explanation.events.to_dicts(), numbers)),
        (spoken("explain.points_title", metric=metric), points_told(explanation.points.to_dicts(), numbers)),
        (spoken("explain.origins_title"), origins_told(explanation.origins.to_dicts(), numbers)),
    ):
        if rows:
            screen.result(f"\n{title}")
            screen.table(headers, rows)


def decide(
    flag_id: FlagArgument,
    decision: Annotated[
        str,
        typer.Argument(
            help="watch, ease, rest, refer or set-aside; of a suspected device: device, players or unclear.", show_default=False
        ),
    ],
    role: Annotated[Role, typer.Option(help="Who decides.")],
    until: Annotated[
        datetime | None, typer.Option(metavar="DATE", formats=["%Y-%m-%d"], help="Last day for which it holds.")
    ] = None,
    note: Annotated[str, typer.Option(help="Free text.")] = "",
    on: Annotated[
        datetime | None,
        typer.Option("--on", metavar="DATE", formats=["%Y-%m-%d"], help="Day of the decision.", show_default="today"),
    ] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Record what a coach or physio decided about a flag; the next run takes it in."""
    from pipelines.stages.decide import Decision, record_decision
    from pipelines.workspace import find_workspace

    found = find_workspace(workspace)
    decided_on = _day(on) or today_at(found.academy().time_zone)
    made = Decision(flag_id, role.value, decision.replace("-", " "), _day(until), note)
    path = record_decision(found, decided_on, made)
    screen = Screen(quiet)
    screen.result(str(path))
    screen.remark(f"Recorded. It counts with the next run: speedworth run -w {pasted(workspace)}")


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    app.command(epilog="Example: speedworth flags --player p07 --since 2026-03-01 --format csv -w my-academy")(flags)
    app.command(epilog="Example: speedworth explain 3k7f2m9q -w my-academy")(explain)
    app.command(epilog="Example: speedworth decide 3k7f2m9q ease --role physio --until 2026-03-20 -w my-academy")(decide)
