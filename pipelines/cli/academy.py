"""Commands about the workspace as a whole: new, run, schedule, demo, doctor, backup, restore, rebuild."""

from __future__ import annotations

import os
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.cli.desk import PORT, Certificate, CertificateKey, Host, Names, Port, desk_beside, desk_options
from pipelines.cli.options import HERE, Quiet, WorkspaceOption, named_place, now, pasted
from pipelines.cli.screen import Screen
from schemas.errors import UsageError

if TYPE_CHECKING:
    from pipelines.stages.finding import Finding
    from schemas.results import FileOutcome, IntakeOutcome, NightOutcome

_MOST_FILES_SHOWN = 25
PASSPHRASE = "SPEEDWORTH_PASSPHRASE"  # noqa: S105 - the name of a variable
SHORTEST_PASSPHRASE = 12


def new(
    folder: Annotated[Path, typer.Argument(parser=named_place, metavar="DIR", help="Folder to make.", show_default=False)],
    quiet: Quiet = False,
) -> None:
    """Make an empty workspace: settings, an inbox, and places for what follows."""
    from pipelines.workspace import create_workspace

    workspace = create_workspace(folder)
    screen = Screen(quiet)
    screen.result(str(workspace.root))
    screen.remark(
        f"Set name and time zone in {workspace.settings}, drop files into {workspace.inbox}, then: "
        f"speedworth run -w {pasted(folder)}"
    )


def run(
    workspace: WorkspaceOption = HERE,
    full: Annotated[bool, typer.Option("--full", help="Compute and write everything anew, also what would stand.")] = False,
    quiet: Quiet = False,
) -> None:
    """Take in what waits, measure, flag and write the pages; says what changed."""
    from pipelines.workspace import find_workspace

    found, screen = find_workspace(workspace), Screen(quiet)
    with screen.steps() as tell:
        tell("Starting")
        from pipelines.runs import Night, run_night, run_whole_night

        outcome = (run_whole_night if full else run_night)(Night(found, now(), tell))
    show_night(screen, outcome)


def show_night(screen: Screen, outcome: NightOutcome) -> None:
    """Say what a night did, and which page to open."""
    if not screen.quiet:
        _show_files(screen, outcome.intake)
        screen.remark(f"Flags: {outcome.n_flags_open} open, {outcome.n_flags_new} new.")
        screen.remark(f"Pages: {outcome.site.n_written} written, {outcome.site.n_unchanged} unchanged.")
    for remark in outcome.remarks:
        screen.remark(remark)
    if outcome.site.n_links_new:
        screen.remark(
            f"New links: {outcome.site.n_links_new} players have one, and the pages under the old ones are gone; "
            "player-links.csv has them all. Hand them out anew, and publish again."
        )
    screen.result(outcome.site.start_page)


def _show_files(screen: Screen, intake: IntakeOutcome) -> None:
    news = [file for file in intake.files if file.status != "unchanged"]
    telling = [file for file in news if file.n_quarantined or file.status == "held"] if len(news) > _MOST_FILES_SHOWN else news
    if telling:
        headers = ("file", "status", "rows", "loaded", "quarantined", "warnings", "why")
        screen.table(headers, [_row(file) for file in telling[:_MOST_FILES_SHOWN]], ("rows", "loaded", "quarantined", "warnings"))
    for file in telling[:_MOST_FILES_SHOWN]:
        if file.listed:
            screen.remark(f"{file.name} – {_told(file)} List: {file.listed}")
    if len(telling) > _MOST_FILES_SHOWN:
        screen.remark(f"... and {len(telling) - _MOST_FILES_SHOWN} more files with problems: see the Data page.")
    if intake.left_alone:
        screen.remark(f"Left alone in inbox/ (hidden, or still being copied): {', '.join(intake.left_alone)}.")
    untold = sum(file.n_warnings for file in news if file not in telling)
    if untold:
        screen.remark(
            f"Warnings of files that are loaded whole: {untold}. The data person's page and the lists in quarantine/ tell them."
        )
    _show_dropped_again(screen, intake)
    _show_known(screen, [file for file in intake.files if file.status == "unchanged"])
    if intake.n_turned_away:
        lines = "1 line" if intake.n_turned_away == 1 else f"{intake.n_turned_away} lines"
        screen.remark(
            f"Left out: {lines} about people who were erased. A file with nothing else is held as empty, and may be deleted; "
            "who comes back gets a new id."
        )
    if not news:
        screen.remark("No new files.")
        return
    screen.remark(
        f"Files: {len(news)} new. Rows in: {intake.n_rows} = {intake.n_loaded} loaded + {intake.n_quarantined} quarantined."
        + (f" Bad cells emptied in loaded rows: {intake.n_emptied}." if intake.n_emptied else "")
    )


def _told(file: FileOutcome) -> str:
    if file.status == "held":
        more = f" `speedworth explain {pasted(Path(file.name))}` lists them." if file.reason == "mostly_bad" else ""
        return f"held: {file.reason.replace('_', ' ')}. {file.says}{more}"
    parts = ["some of it is not loaded."] if file.n_quarantined or file.n_emptied else []
    if file.warned:
        warned = "; ".join(_warning(*one) for one in file.warned)
        parts.append(f"loaded, and worth a look: {warned}.")
    return " ".join(parts)


def _warning(rule: str, n: int) -> str:
    code, of_file, found = rule.partition(": ")
    return f"{code.replace('_', ' ')}: {found}" if of_file else f"{code.replace('_', ' ')} ({n})"


def _show_dropped_again(screen: Screen, intake: IntakeOutcome) -> None:
    for player in dict.fromkeys(player for _, player in intake.to_drop_again):
        names = ", ".join(name for name, whose in intake.to_drop_again if whose == player)
        screen.remark(
            f"{player} has agreed to body reports by now. Rows of theirs were not kept before: drop {names} again, where the "
            "consent holds for these too."
        )


def _show_known(screen: Screen, known: list[FileOutcome]) -> None:
    for file in known[:_MOST_FILES_SHOWN]:
        screen.remark(f"{file.name}: {file.note}; nothing of it changed.")
    if len(known) > _MOST_FILES_SHOWN:
        screen.remark(f"... and {len(known) - _MOST_FILES_SHOWN} more files that were taken in before.")


def _row(file: FileOutcome) -> tuple[object, ...]:
    return (file.name, file.status, file.n_rows, file.n_loaded, file.n_quarantined, file.n_warnings, file.reason or file.note)


def withdraw(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Name of a loaded file, or its id.", show_default=False)],
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Take a file back: its rows leave, what it had replaced comes back, its original stays.

    Dropped again, it is taken in anew.
    """
    from pipelines.workspace import find_workspace

    found, screen = find_workspace(workspace), Screen(quiet)
    with screen.steps() as tell:
        from pipelines.runs import Night, withdraw_and_rerun

        withdrawal, outcome = withdraw_and_rerun(Night(found, now(), tell), file)
    screen.remark(f"Taken back: {withdrawal.name}, {withdrawal.n_rows} rows. Its original stays as {withdrawal.kept_as}.")
    show_night(screen, outcome)


def again(
    file: Annotated[str, typer.Argument(metavar="[FILE]", help="Name of a held file, or its id.", show_default=False)] = "",
    held: Annotated[bool, typer.Option("--held", help="Every file that is held.")] = False,
    accept: Annotated[bool, typer.Option("--accept", help="What it would replace is confirmed.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Try held files again from quarantine, after a mapping or a setting was put right, or to confirm a correction."""
    from pipelines.workspace import find_workspace

    if bool(file) == held:
        raise UsageError("Name one held file, or give --held.", "See `speedworth again --help`.")
    if held and accept:
        raise UsageError("--accept confirms one file.", "Name it.")
    found, screen = find_workspace(workspace), Screen(quiet)
    with screen.steps() as tell:
        from pipelines.runs import Night, try_again

        outcome = try_again(Night(found, now(), tell), file, accepted=accept)
    show_night(screen, outcome)


def schedule(
    desk: Annotated[bool, typer.Option("--desk", help="Open the desk beside it.")] = False,
    host: Host = "127.0.0.1",
    port: Port = PORT,
    tls_cert: Certificate = None,
    tls_key: CertificateKey = None,
    name: Names = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Serve intake, nightly run and weekly review on the academy's timetable, until stopped with Ctrl-C.

    The times stand in academy.toml under [times].

    Starts a Prefect server on this machine's loopback address when PREFECT_API_URL names none, and stops it at the end.
    """
    from pipelines.flows.timetable import serve, timetable_of
    from pipelines.workspace import find_workspace

    found, tell = find_workspace(workspace), Screen(quiet).remark
    options = desk_options(host, port, tls_cert, tls_key, tuple(name or ()))
    with desk_beside(found, options, tell) if desk else nullcontext():
        serve(found, timetable_of(found.academy().times), tell)


def demo(
    folder: Annotated[Path, typer.Argument(parser=named_place, metavar="[DIR]", help="Folder to make.")] = Path("demo-academy"),
    quiet: Quiet = False,
) -> None:
    """Invent an academy, three seasons long, and take it through everything; prints the page to open."""
    screen = Screen(quiet)
    with screen.steps() as tell:
        tell("Inventing an academy")
        from pipelines.demo.academy import invented_academy
        from pipelines.demo.cast import LAST_EVENING
        from pipelines.runs import Night, run_night

        outcome = run_night(Night(invented_academy(folder), LAST_EVENING, tell))
    show_night(screen, outcome)
    screen.remark("Open the page above in a browser. What the invented stories are stands in truth.json beside it.")


def doctor(workspace: WorkspaceOption = HERE, quiet: Quiet = False) -> None:
    """Examine a workspace: settings, folders, disk, lock, warehouse, audits. Changes nothing."""
    from pipelines.stages.doctor import examine
    from pipelines.workspace import find_workspace

    findings = examine(find_workspace(workspace))
    shown = [finding for finding in findings if not quiet or finding.state != "fine"]
    if shown:
        Screen(quiet).table(("state", "about", "found", "what to do"), [_finding(finding) for finding in shown])
    broken = [finding.exit_code for finding in findings if finding.state == "broken"]
    if broken:
        raise typer.Exit(broken[0])


def _finding(finding: Finding) -> tuple[str, str, str, str]:
    return (finding.state, finding.about.replace("_", " "), finding.says, finding.todo)


def expire(
    look: Annotated[bool, typer.Option("--look", help="Say what would go, and change nothing.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Take out rows that are older than [keep_years] in academy.toml allows, for good.

    The timetable does so each week. They leave the warehouse, what is derived, the kept originals and the lists of problems.
    Backups that were made before still hold them.
    """
    from pipelines.workspace import find_workspace

    found, screen = find_workspace(workspace), Screen(quiet)
    if not found.academy().keep_years:
        screen.remark("Nothing expires: [keep_years] in academy.toml names no kind.")
        return
    if look:
        from pipelines.stages.retention import looked_at

        rows = looked_at(found, now())
    else:
        with screen.steps() as tell:
            tell("Starting")
            from pipelines.runs import Night, expire_and_rerun

            rows = expire_and_rerun(Night(found, now(), tell)).rows
    for kind, n in rows.items():
        screen.result(f"{kind} {n}")
    screen.remark(f"{sum(rows.values())} rows {'would go' if look else 'are gone'}.")


Passphrase = Annotated[bool, typer.Option("--passphrase", help=f"Asks for a passphrase, or takes it from {PASSPHRASE}.")]


def backup(
    to: Annotated[list[str] | None, typer.Option("--to", metavar="KEY", help="A public key (age1...) that can read it.")] = None,
    new_key: Annotated[
        Path | None,
        typer.Option(
            "--new-key", parser=named_place, metavar="FILE", help="Make a pair of keys; FILE, on another disk, opens backups."
        ),
    ] = None,
    passphrase: Passphrase = False,
    plain: Annotated[bool, typer.Option("--plain", help="Not encrypted: whoever gets the file can read it.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Copy settings, warehouse, originals and quarantine into one encrypted file in backups/.

    Without an option it is encrypted to the public keys in recipients.txt, where --new-key puts one. The file is read again after
    writing, and its path printed.
    """
    from pipelines.stages.backup import back_up
    from pipelines.stages.seal import Readers, checked_key, make_key, require_readers
    from pipelines.workspace import find_workspace

    found, screen = find_workspace(workspace), Screen(quiet)
    if sum((bool(to), bool(new_key), passphrase, plain)) > 1:
        raise UsageError("Only one of --to, --new-key, --passphrase and --plain can be meant.", "Leave the others out.")
    if new_key is not None:
        screen.remark(f"{new_key} opens this and later backups; without it nobody can. Public key: {make_key(found, new_key)}")
    if plain:
        readers = Readers()
    elif passphrase:
        readers = Readers(passphrase=_new_passphrase())
    else:
        readers = Readers(tuple(checked_key(key) for key in to)) if to else require_readers(found)
    made = back_up(found, now(), readers=readers)
    screen.result(str(made.path))
    seal = "encrypted" if made.is_encrypted else "not encrypted"
    screen.remark(f"{made.n_files} files, {made.n_bytes / 1e6:.1f} MB, {seal}. Keep a copy on another disk.")


def _passphrase(*, confirm: bool) -> str:
    given = os.environ.get(PASSPHRASE, "")
    if given:
        return given
    try:
        return str(typer.prompt("Passphrase", hide_input=True, confirmation_prompt=confirm, err=True))
    except typer.Abort as nobody:
        raise UsageError("Nobody gave a passphrase.", f"Type it, or set {PASSPHRASE}.") from nobody


def _new_passphrase() -> str:
    """One to close a backup with; whoever gets hold of the file may try as many as a machine can."""
    told = _passphrase(confirm=True)
    if len(told.strip()) < SHORTEST_PASSPHRASE:
        raise UsageError(
            f"A passphrase of {len(told.strip())} characters is soon found by trying.",
            f"Take {SHORTEST_PASSPHRASE} or more, such as four words that do not belong together; or --new-key FILE.",
        )
    return told


def restore(
    file: Annotated[Path, typer.Argument(parser=named_place, metavar="FILE", help="A backup.", show_default=False)],
    key: Annotated[
        Path | None,
        typer.Option("--key", parser=named_place, metavar="FILE", help="Private key, as made by `speedworth backup --new-key`."),
    ] = None,
    passphrase: Passphrase = False,
    from_elsewhere: Annotated[bool, typer.Option("--from-elsewhere", help="Take a backup that another workspace made.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Put a backup in place of what the workspace holds; what was there is moved aside, not deleted."""
    from pipelines.stages.restore import restore as bring_back
    from pipelines.stages.seal import Opener
    from pipelines.workspace import Workspace

    screen = Screen(quiet)
    opener = Opener(key, _passphrase(confirm=False) if passphrase else "")
    aside = bring_back(Workspace(workspace), file, now(), opener=opener, from_elsewhere=from_elsewhere, tell=screen.remark)
    screen.result(str(aside))
    screen.remark(f"Restored. What was there before lies in {aside}. Now: speedworth run -w {pasted(workspace)}")


def rebuild(
    incomplete: Annotated[bool, typer.Option("--incomplete", help="Go on without originals that are gone or damaged.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Make a lost or broken warehouse anew from the originals in archive/."""
    from pipelines.stages.rebuild import rebuild as make_anew
    from pipelines.workspace import find_workspace

    found, screen = find_workspace(workspace), Screen(quiet)
    with screen.steps() as tell:
        made = make_anew(found, now(), incomplete=incomplete, tell=tell)
    screen.result(str(found.warehouse))
    screen.remark(f"{made.n_files} files, {made.n_rows} rows. Now: speedworth run -w {pasted(workspace)}")
    if made.aside is not None:
        screen.remark(f"What was there before lies in {made.aside}.")
    for name in made.left_out:
        screen.remark(f"Left out, gone or damaged: {name}")
    for name in made.differing:
        screen.remark(f"Reads otherwise than it did: {name}")


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    app.command(epilog="Example: speedworth demo")(demo)
    app.command(epilog="Example: speedworth new my-academy")(new)
    app.command(epilog="Example: speedworth run -w my-academy")(run)
    app.command(epilog="Example: speedworth withdraw shots_2026-03-14.csv -w my-academy")(withdraw)
    app.command(epilog="Example: speedworth again shots_2026-03-14.csv -w my-academy")(again)
    app.command(epilog="Example: speedworth schedule -w my-academy")(schedule)
    app.command(epilog="Example: speedworth doctor -w my-academy")(doctor)
    app.command(epilog="Example: speedworth expire --look -w my-academy")(expire)
    app.command(epilog="Example: speedworth backup -w my-academy")(backup)
    app.command(epilog="Example: speedworth rebuild -w my-academy")(rebuild)
    app.command(epilog="Example: speedworth restore my-academy/backups/FILE -w my-academy")(restore)
