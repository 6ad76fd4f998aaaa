"""The story of a night as plain composition: take in, measure, flag, render. Prefect wraps these functions, it is not here."""

from __future__ import annotations

import hashlib
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pipelines.collector import give_back_memory
from pipelines.measures.references import BIBLIOGRAPHY
from pipelines.measures.tradeoff import printed_savings
from pipelines.program import program_digest
from pipelines.stages.audit_log import INTAKE, NIGHT, REVIEW, last_time, note
from pipelines.stages.backup import back_up
from pipelines.stages.crew import crew, go_on, processes
from pipelines.stages.desk_view import limited_groups, write_desk_view
from pipelines.stages.doctor import examine
from pipelines.stages.intake import NOTHING_ASKED, AskedAgain, find_delivery, held_ids, take_in
from pipelines.stages.links import renew_links
from pipelines.stages.night_steps import AHEAD, MEASURES, UNTIL_DECIDED
from pipelines.stages.opened import cleaned, opened
from pipelines.stages.player_erasure import erase_player, finish_erasures, turn_away_erased
from pipelines.stages.publish import publish
from pipelines.stages.retention import Expired, clock_findings, expire
from pipelines.stages.share import share_months
from pipelines.stages.take_norms import take_norms
from pipelines.stages.withdraw import withdraw_file
from pipelines.workspace import Workspace, writing
from reports.shelf import damaged_files, forget_rows
from reports.site import build_site
from schemas.errors import WarehouseMemoryError
from schemas.results import NightOutcome, SiteOutcome
from warehouse.connection import open_warehouse
from warehouse.flags import flag_rows
from warehouse.night import (
    forget_night,
    last_decided_day,
    last_known_day,
    last_received_day,
    rows_digest,
    store_night,
    stored_night,
)
from warehouse.units import forget_units, sessions_told

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from datetime import date, datetime
    from pathlib import Path

    import duckdb
    import polars as pl

    from pipelines.stages.backup import Backup
    from pipelines.stages.finding import Finding
    from pipelines.stages.player_erasure import Erasure
    from pipelines.stages.publish import Published
    from schemas.academy import Academy
    from schemas.results import IntakeOutcome, Withdrawal
    from warehouse.marts import Audience

    Tell = Callable[[str], None]


@dataclass(frozen=True)
class Review:
    """What a weekly review did.

    Attributes
    ----------
    findings : tuple of Finding
        State of the workspace.
    expired : Expired
        Rows that were older than the academy keeps them.
    backup : Backup or None
        None: the settings want none.
    """

    findings: tuple[Finding, ...]
    expired: Expired
    backup: Backup | None


@dataclass(frozen=True)
class Night:
    """One night's work on one workspace.

    Attributes
    ----------
    workspace : Workspace
    now : datetime
        The clock (UTC).
    tell : callable
        Called with the name of each step as it begins.
    wait_s : float
        How long to wait for another process that holds the workspace [s].
    """

    workspace: Workspace
    now: datetime
    tell: Tell = lambda _: None
    wait_s: float = 0.0

    def today(self, academy: Academy) -> date:
        """The academy's local day."""
        return self.now.astimezone(ZoneInfo(academy.time_zone)).date()


def take_in_waiting(night: Night) -> IntakeOutcome:
    """Take in what waits in the inbox, and nothing else.

    Raises
    ------
    SettingsError, WorkspaceError, WarehouseError
    """
    academy = night.workspace.academy()
    with _begun(night, "an intake"), opened(night.workspace) as con:
        intake = _take_in(con, academy, night)
        _tell_desk(con, academy, night)
    if intake.files:
        _note_run(night, INTAKE, intake)
    return intake


def run_night(night: Night, asked: AskedAgain = NOTHING_ASKED) -> NightOutcome:
    """Take in what waits and what is asked for again, measure, flag and render; what has not changed is not done again.

    Raises
    ------
    SettingsError, WorkspaceError, WarehouseError, RenderError
    """
    with _begun(night, "a run"):
        return _night_held(night, asked)


def run_due_night(night: Night, due: datetime) -> NightOutcome | None:
    """The night that was due at ``due``; None when one was begun since and is done, whoever did it.

    It is asked while the workspace is held: of two that were sent for the same night, the second finds it done.

    Raises
    ------
    SettingsError, WorkspaceError, WarehouseError, RenderError
    """
    with _begun(night, "a run"):
        done = last_time(night.workspace, NIGHT)
        return None if done is not None and done >= due else _night_held(night, NOTHING_ASKED)


def run_whole_night(night: Night) -> NightOutcome:
    """A night in which nothing that was computed or written before stands.

    Raises
    ------
    SettingsError, WorkspaceError, WarehouseError, RenderError
    """
    with _begun(night, "forgetting what stands"), opened(night.workspace) as con:
        forget_night(con)
        forget_units(con)
        forget_rows(night.workspace.site)
    return run_night(night)


def _night_held(night: Night, asked: AskedAgain) -> NightOutcome:
    academy = night.workspace.academy()
    with opened(night.workspace) as con:
        academy = replace(academy, id_key=night.workspace.id_key())
        intake = _take_in(con, academy, night, asked)
    try:
        return _night_of(night, academy, intake)
    except WarehouseMemoryError:
        night.tell("Memory ran short: once more with all that the machine has")
        return _night_of(night, academy, intake, is_bounded=False)


def _night_of(night: Night, academy: Academy, intake: IntakeOutcome, *, is_bounded: bool = True) -> NightOutcome:
    """The night after its intake. The warehouse is opened anew: what it may hold follows the shots that are there by now."""
    with cleaned(night.workspace, is_bounded=is_bounded) as con:
        as_of = last_known_day(con, night.today(academy))
        untaken = take_norms(con, night.workspace, academy)
        remarks = (untaken,) if untaken else ()
        fingerprint = _fingerprint(con, academy, as_of, night)
        before = flag_rows(con)
        if stored_night(con) == (fingerprint, as_of) and _start_page(night.workspace).exists():
            _tell_desk(con, academy, night)
            same = _outcome(
                intake, before, before, _whole_site(con, academy, as_of, night), (*remarks, *_share(con, academy, night))
            )
            _note_run(night, NIGHT, intake, flags_new=0, pages_written=same.site.n_written)
            return same
        forget_night(con)
        with crew(), sessions_told(con):
            _measure(con, academy, as_of, night)
            flags = flag_rows(con)
            site = _render(con, academy, as_of, night)
        store_night(con, fingerprint, as_of)
        _tell_desk(con, academy, night)
        outcome = _outcome(intake, before, flags, site, (*remarks, *_share(con, academy, night)))
    _note_run(night, NIGHT, intake, flags_new=outcome.n_flags_new, pages_written=site.n_written)
    return outcome


def _note_run(night: Night, what: str, intake: IntakeOutcome, **more: int) -> None:
    held = sum(file.status == "held" for file in intake.files)
    note(night.workspace, night.now, what, files=len(intake.files), rows=intake.n_rows, loaded=intake.n_loaded, held=held, **more)


@contextmanager
def _begun(night: Night, purpose: str) -> Iterator[None]:
    """The workspace held for writing, with an erasure that was ended before it was whole finished first."""
    with writing(night.workspace, purpose, night.wait_s):
        if finish_erasures(night.workspace, night.now) is not None:
            night.tell("Finished an erasure that had been interrupted")
        yield


def _outcome(
    intake: IntakeOutcome, before: pl.DataFrame, flags: pl.DataFrame, site: SiteOutcome, remarks: tuple[str, ...]
) -> NightOutcome:
    n_new = len(set(flags["flag_id"]) - set(before["flag_id"]))
    return NightOutcome(intake, flags["closed_on"].null_count(), n_new, site, remarks)


def _share(con: duckdb.DuckDBPyConnection, academy: Academy, night: Night) -> tuple[str, ...]:
    """Share what is due, where the academy agreed to; what to tell of it."""
    if not academy.share.is_on:
        return ()
    night.tell("Sharing with the federation")
    shared = share_months(con, night.workspace, academy, night.today(academy))
    if shared.n_months:
        note(night.workspace, night.now, "share", months=shared.n_months, rows=shared.n_rows)
    told = (f"Shared with the federation: {shared.n_months} months, {shared.n_rows} rows.",) if shared.n_months else ()
    return (*told, shared.trouble) if shared.trouble else told


def erase_and_rerun(night: Night, player_id: str) -> Erasure:
    """Forget a player, then measure and render without them.

    Raises
    ------
    NotFoundError, WorkspaceError, WarehouseError, RenderError
    """
    night.tell("Forgetting the player")
    erasure = erase_player(night.workspace, player_id, night.now)
    run_night(night)
    return erasure


def withdraw_and_rerun(night: Night, named: str) -> tuple[Withdrawal, NightOutcome]:
    """Take one file back, then take in what comes back through it, measure and render.

    Raises
    ------
    NotFoundError, IntakeError, WorkspaceError, WarehouseError, RenderError
    """
    night.tell("Taking the file back")
    with _begun(night, "a withdrawal"):
        withdrawal = withdraw_file(night.workspace, named, night.now)
    return withdrawal, run_night(night)


def renew_and_rerun(night: Night, player_id: str) -> NightOutcome:
    """Give a player's page, or every player's when none is named, a new link; the pages under the old one go.

    Raises
    ------
    NotFoundError, WorkspaceError, WarehouseError, RenderError
    """
    with _begun(night, "a renewal of links"):
        renew_links(night.workspace, player_id, night.now)
    return run_night(night)


def publish_rooms(night: Night, rooms: Mapping[Audience, Path]) -> tuple[Published, ...]:
    """Copy pages, as the last night left them, to folders of their own; see :func:`pipelines.stages.publish.publish`."""
    with _begun(night, "a publication"):
        return publish(night.workspace, rooms, night.now)


def try_again(night: Night, named: str, *, accepted: bool) -> NightOutcome:
    """Try a held file again from quarantine (every held file when none is named), with all that a night does.

    Raises
    ------
    NotFoundError, WorkspaceError, WarehouseError, RenderError
    """
    with open_warehouse(night.workspace.warehouse, read_only=True) as con:
        wanted = frozenset({find_delivery(con, named, ("held",))["file_id"]}) if named else held_ids(con)
    return run_night(night, AskedAgain(wanted, accepted))


def expire_and_rerun(night: Night) -> Expired:
    """Take out what is older than academy.toml keeps it; then, when there was anything, measure and render without it.

    Raises
    ------
    SettingsError, WorkspaceError, WarehouseError, RenderError
    """
    with _begun(night, "taking out what is too old"):
        expired = expire(night.workspace, night.today(night.workspace.academy()), night.now)
    if expired.n_files or night.workspace.rewrite_due.exists():
        run_night(night)
    return expired


def weekly_review(night: Night) -> Review:
    """Take out what is too old, but for a clock that may be wrong, make a backup where it is wanted, and examine the workspace.

    Raises
    ------
    WorkspaceError, WarehouseError, RenderError
    """
    expired = Expired() if (doubts := clock_findings(night.workspace, night.now)) else expire_and_rerun(night)
    wanted = night.workspace.academy().times.backup
    backup = back_up(night.workspace, night.now, night.wait_s) if wanted else None
    found = (*examine(night.workspace), *doubts)
    to_look = sum(finding.state != "fine" for finding in found)
    note(night.workspace, night.now, REVIEW, findings=len(found), to_look_at=to_look, backups=int(wanted))
    return Review(found, expired, backup)


def _take_in(con: duckdb.DuckDBPyConnection, academy: Academy, night: Night, asked: AskedAgain = NOTHING_ASKED) -> IntakeOutcome:
    n_turned_away = turn_away_erased(night.workspace, con)
    if n_turned_away:
        note(night.workspace, night.now, "turned away", lines=n_turned_away)
    night.tell("Taking in files")
    outcome = take_in(
        night.workspace.root,
        con,
        academy,
        night.now,
        lambda what, done, total: night.tell(f"Taking in files: {what}, {done} of {total}"),
        asked,
    )
    return replace(outcome, n_turned_away=n_turned_away)


def _measure(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date, night: Night) -> None:
    decided = last_decided_day(con, as_of, night.today(academy))
    for step, measure in MEASURES:
        night.tell(step)
        for one in (*AHEAD.get(step, ()), measure):
            one(con, academy, decided if one in UNTIL_DECIDED else as_of)
            go_on()
        give_back_memory()


def _render(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date, night: Night) -> SiteOutcome:
    night.tell("Writing the pages")
    return build_site(
        con,
        academy,
        night.workspace.site,
        as_of=as_of,
        sources=tuple(BIBLIOGRAPHY.values()),
        site_key=night.workspace.site_key(),
        last_files_on=last_received_day(con, academy.time_zone),
        printed=printed_savings(),
        limited=limited_groups(night.workspace),
        processes=processes(),
    )


def _tell_desk(con: duckdb.DuckDBPyConnection, academy: Academy, night: Night) -> None:
    write_desk_view(con, night.workspace, last_known_day(con, night.today(academy)), night.now)


def _start_page(workspace: Workspace) -> Path:
    return workspace.site / "coach" / "index.html"


def _whole_site(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date, night: Night) -> SiteOutcome:
    """The site as it is; what somebody changed, took out or put in is mended first."""
    damaged = damaged_files(night.workspace.site)
    if not damaged:
        return _site_as_it_is(night.workspace)
    night.tell(f"Pages that were changed since they were written: {len(damaged)}")
    with crew():
        return _render(con, academy, as_of, night)


def _site_as_it_is(workspace: Workspace) -> SiteOutcome:
    n = sum(1 for page in workspace.site.rglob("*/**/*") if page.is_file())
    return SiteOutcome(0, n, str(_start_page(workspace)))


def _fingerprint(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date, night: Night) -> str:
    made_from = (
        program_digest(),
        repr(academy),
        night.workspace.site_key().hex(),
        academy.id_key.hex(),
        as_of,
        limited_groups(night.workspace),
        rows_digest(con),
    )
    return hashlib.sha256("|".join(map(str, made_from)).encode()).hexdigest()
