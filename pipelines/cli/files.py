"""Commands about one file: check, map."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption, named_place, now, pasted
from pipelines.cli.screen import Screen
from schemas.errors import IntakeError, UsageError

if TYPE_CHECKING:
    import polars as pl

    from pipelines.stages.intake import DraftedMapping, Hints, Inspection

_MOST_PROBLEMS_SHOWN = 30
_LONGEST = 80

FileArgument = Annotated[
    Path, typer.Argument(parser=named_place, metavar="FILE", help="The file, wherever it lies.", show_default=False)
]


def check(
    file: FileArgument,
    mapping: Annotated[str, typer.Option("--mapping", "-m", metavar="NAME", help="Read it through mappings/NAME.toml.")] = "",
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Say what would happen to a file: rows loaded, held, replaced, and why. Changes nothing.

    Without a workspace, players, sessions and earlier files are not looked at.
    """
    screen = Screen(quiet)
    found = _inspected(file, mapping, workspace, screen)
    _show_outcomes(screen, found)
    _show_problems(screen, found.problems)
    held = [outcome for outcome in found.files if outcome.status == "held"]
    if held:
        reasons = ", ".join(sorted({outcome.reason for outcome in held}))
        raise IntakeError(f"{file} would be held: {reasons}.", _hint(found.problems))


def _print_keys(wanted: bool) -> None:
    """Print every key of a mapping and stop."""
    if wanted:
        from pipelines.stages.intake.mapping_keys import keys_text

        typer.echo(keys_text())
        raise typer.Exit


def map_file(
    file: FileArgument,
    keys: Annotated[  # noqa: ARG001 - its callback has printed them
        bool,
        typer.Option(
            "--keys", help="Print every key that a mapping may have, and the units.", callback=_print_keys, is_eager=True
        ),
    ] = False,
    to: Annotated[
        str, typer.Option("--to", metavar="NAME", help="Write it to mappings/NAME.toml.", show_default="print it")
    ] = "",
    kind: Annotated[str, typer.Option("--kind", metavar="KIND", help="Kind of file, where the headers do not tell.")] = "",
    sheet: Annotated[str, typer.Option("--sheet", metavar="NAME", help="Only this sheet of a workbook.")] = "",
    player_column: Annotated[str, typer.Option("--player-column", metavar="COLUMN", help="Column with the players.")] = "",
    date_column: Annotated[str, typer.Option("--date-column", metavar="COLUMN", help="Column with the day or time.")] = "",
    column: Annotated[
        list[str] | None,
        typer.Option("--column", metavar="OURS=THEIRS", help="Column of ours and where it stands; may be given several times."),
    ] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Draft a mapping for a foreign export, and say how sure each column is. A workbook gets one for each sheet."""
    from pipelines.stages.intake import draft_mappings
    from pipelines.workspace import find_workspace

    drafts = draft_mappings(_where_it_lies(file, workspace), _hints(kind, player_column, date_column, column or []))
    drafts = tuple(draft for draft in drafts if not sheet or draft.sheet in {sheet, ""})
    if not drafts:
        raise UsageError(f"No table was found on a sheet {sheet!r}.", "Check the name of the sheet.")
    screen = Screen(quiet)
    for place, draft in enumerate(drafts):
        name = to if place == 0 or not to else f"{to}-{place + 1}"
        screen.result(str(_kept(draft.text, name, workspace)) if to else draft.text.rstrip("\n"))
        _tell_draft(screen, draft)
    if len(drafts) > 1:
        screen.remark("One mapping for each sheet: drop the workbook into the folder of each.")
    if to:
        inbox = find_workspace(workspace).inbox / to
        inbox.mkdir(exist_ok=True)
        screen.remark(f"Read it and correct it; then copy the file into {inbox}, and: speedworth run -w {pasted(workspace)}")


def _hints(kind: str, player_column: str, date_column: str, columns: list[str]) -> Hints:
    from pipelines.stages.intake import Hints
    from schemas.files import KINDS

    if kind and kind not in KINDS:
        raise UsageError(f"There is no kind {kind!r}.", f"Kinds: {', '.join(KINDS)}.")
    told = {}
    for pair in columns:
        ours, sign, theirs = pair.partition("=")
        if not sign or not any(ours in known.names for known in KINDS.values()):
            raise UsageError(f"--column {pair!r} is no column of ours and one of the file.", 'Write it as carry_m="Carry dist".')
        told[ours] = theirs
    return Hints(kind, told | ({"player_id": player_column} if player_column else {}), date_column)


def _tell_draft(screen: Screen, draft: DraftedMapping) -> None:
    unsure = [column for column in draft.columns if not column.sure]
    where = f" of sheet {draft.sheet}" if draft.sheet else ""
    screen.remark(f"Kind {draft.kind}{where}: {len(draft.columns) - len(unsure)} columns are sure, {len(unsure)} are not.")
    for column in unsure:
        source = ", ".join(column.sources or (column.left, column.right)).strip(", ")
        screen.remark(f"Not sure: {column.target}{f' from {source}' if source else ''}: {column.why}")
    if draft.not_understood:
        screen.remark(f"Not understood, left out: {', '.join(draft.not_understood)}")


def _kept(text: str, name: str, folder: Path) -> Path:
    from pipelines.stages.intake.disk import write_whole
    from pipelines.stages.intake.people import NAMES_FILE
    from pipelines.workspace import find_workspace

    path = find_workspace(folder).mappings / f"{name}.toml"
    if Path(name).name != name or name.startswith(".") or path.name == NAMES_FILE:
        raise UsageError(f"{name!r} cannot be the name of a mapping.", "Use letters, digits, - and _; names.toml holds names.")
    if path.exists():
        raise UsageError(f"{path} is there already.", "Choose another name, or move it away.")
    write_whole(path, text.encode())
    return path


def _where_it_lies(file: Path, folder: Path) -> Path:
    """The file; where there is none of that path, the one that came under this name, which the run or the Data page names."""
    from pipelines.stages.intake.again import delivery_named
    from pipelines.workspace import Workspace
    from warehouse.connection import open_warehouse

    workspace = Workspace(folder)
    if file.exists() or not workspace.warehouse.is_file():
        return file
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        found = delivery_named(con, str(file), ("held", "loaded"))
    kept = workspace.root / found["kept_as"] if found else file
    return kept if kept.is_file() else file


def _inspected(file: Path, mapping: str, folder: Path, screen: Screen) -> Inspection:
    from pipelines.stages.intake import Readings, check_file
    from pipelines.workspace import Workspace
    from warehouse.connection import open_warehouse

    if not file.exists():
        raise IntakeError(f"There is no file {file}.", "Check its name and folder.")
    workspace = Workspace(folder)
    has_settings, has_warehouse = workspace.settings.is_file(), workspace.warehouse.is_file()
    if not has_warehouse:
        screen.remark("No warehouse here yet: players, sessions and earlier files are not looked at.")
    with open_warehouse(workspace.warehouse, read_only=True) if has_warehouse else nullcontext() as con:
        own = workspace.mappings
        readings = Readings.of(own, workspace.academy(), con) if has_settings else Readings(own, "UTC", con)
        return check_file(file, readings, now(), mapping)


def _hint(problems: pl.DataFrame) -> str:
    hints = problems.filter(severity="held")["hint"].to_list() or problems["hint"].to_list()
    return hints[0] if hints else ""


def _show_outcomes(screen: Screen, found: Inspection) -> None:
    headers = ("file", "kind", "would be", "rows", "loaded", "quarantined", "warnings")
    rows = [
        (file.name, file.kind, file.status, file.n_rows, file.n_loaded, file.n_quarantined, file.n_warnings)
        for file in found.files
    ]
    screen.table(headers, rows, ("rows", "loaded", "quarantined", "warnings"))
    n_replaced = found.replaced["by_this"].sum() if found.replaced.height else 0
    if n_replaced:
        screen.remark(f"It would replace {n_replaced} older sessions, days or rows that are there.")
    if found.replaced.height - n_replaced:
        screen.remark(
            f"{found.replaced.height - n_replaced} of its sessions, days or rows are there in a newer version and would stay."
        )


def _show_problems(screen: Screen, problems: pl.DataFrame) -> None:
    """Every problem of a few, the kinds of problem of many."""
    if problems.is_empty():
        return
    screen.remark("")
    if problems.height <= _MOST_PROBLEMS_SHOWN:
        each = ("line", "column", "value", "rule", "allowed", "hint", "severity")
        screen.table(each, _shortened(problems).select(each).rows(), ("line",))
        return
    import polars as pl

    of_kind = (
        _shortened(problems)
        .group_by("severity", "rule", "column", "allowed", "hint", maintain_order=True)
        .agg(pl.len().alias("problems"), pl.col("line").min().alias("first line"), pl.col("value").first().alias("example"))
        .sort("problems", descending=True, maintain_order=True)
    )
    columns = ("problems", "rule", "column", "first line", "example", "allowed", "hint", "severity")
    screen.table(columns, of_kind.select(columns).rows(), ("problems", "first line"))


def _shortened(problems: pl.DataFrame) -> pl.DataFrame:
    """Long lists of what is allowed cut short: the data dictionary has them whole."""
    import polars as pl

    allowed = pl.col("allowed")
    return problems.with_columns(
        pl.when(allowed.str.len_chars() > _LONGEST).then(allowed.str.head(_LONGEST) + " ...").otherwise(allowed)
    )


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    app.command(epilog="Example: speedworth check shots_2026-03-14.csv -w my-academy")(check)
    app.command("map", epilog="Example: speedworth map export.csv --to bay-3 -w my-academy")(map_file)
