"""Commands about one file: check, map."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption, now
from pipelines.cli.screen import Screen
from schemas.errors import IntakeError, UsageError

if TYPE_CHECKING:
    import polars as pl

    from pipelines.stages.intake import Inspection

_MOST_PROBLEMS_SHOWN = 30
_LONGEST = 80

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="The file, wherever it lies.", show_default=False)]


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
        bool, typer.Option("--keys", help="Print every key that a mapping may have.", callback=_print_keys, is_eager=True)
    ] = False,
    to: Annotated[
        str, typer.Option("--to", metavar="NAME", help="Write it to mappings/NAME.toml.", show_default="print it")
    ] = "",
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Draft a mapping for a foreign export, and say how sure each column is."""
    from pipelines.stages.intake import draft_mapping

    draft = draft_mapping(file)
    screen = Screen(quiet)
    screen.result(str(_kept(draft.text, to, workspace)) if to else draft.text.rstrip("\n"))
    unsure = [column for column in draft.columns if not column.sure]
    screen.remark(f"Kind {draft.kind}: {len(draft.columns) - len(unsure)} columns are sure, {len(unsure)} are not.")
    for column in unsure:
        screen.remark(f"Not sure: {column.target} from {', '.join(column.sources)}: {column.why}")
    if draft.not_understood:
        screen.remark(f"Not understood, left out: {', '.join(draft.not_understood)}")


def _kept(text: str, name: str, folder: Path) -> Path:
    from pipelines.workspace import find_workspace

    path = find_workspace(folder).mappings / f"{name}.toml"
    if Path(name).name != name or name.startswith("."):
        raise UsageError(f"{name!r} cannot be the name of a mapping.", "Use letters, digits, - and _.")
    if path.exists():
        raise UsageError(f"{path} is there already.", "Choose another name, or move it away.")
    path.write_text(text, encoding="utf-8")
    return path


def _inspected(file: Path, mapping: str, folder: Path, screen: Screen) -> Inspection:
    from pipelines.stages.intake import check_file
    from pipelines.workspace import Workspace
    from warehouse.connection import open_warehouse

    if not file.exists():
        raise IntakeError(f"There is no file {file}.", "Check its name and folder.")
    workspace = Workspace(folder)
    has_settings, has_warehouse = workspace.settings.is_file(), workspace.warehouse.is_file()
    if not has_warehouse:
        screen.remark("No warehouse here yet: players, sessions and earlier files are not looked at.")
    time_zone = workspace.academy().time_zone if has_settings else "UTC"
    with open_warehouse(workspace.warehouse, read_only=True) if has_warehouse else nullcontext() as con:
        return check_file(file, workspace.mappings, con, time_zone, now(), mapping)


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
