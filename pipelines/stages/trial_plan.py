"""Planning a trial: a shot sheet from the player's own noise, written into the workspace, and what a trial has shown.

For the command line::

    sheet = plan_trial(con, academy, TrialWish(player_id="p01", question="wider stance", arms=("normal", "wider")), today)
    files = write_sheet(workspace_root, sheet, academy, today)      # sheets/ID.html, sheets/ID.csv, inbox/trials_ID.csv
    lines = shown_trial(con, academy, "trial-03", today)            # what `speedworth trial show` prints
"""

from __future__ import annotations

import zlib
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.trial.cost import CourseCost
from pipelines.measures.trial.design import LEAST_DAYS, trial_design
from pipelines.measures.trial.noise import own_noise
from pipelines.measures.trial.power import PLANNED, power_row, proposed_shots, shots_for_scatter
from pipelines.measures.trial.sheet import order_text
from pipelines.measures.worthwhile import worths_in_force
from pipelines.stages.intake.disk import write_whole
from pipelines.stages.intake.own_rows import require_loadable
from reports.findings.trial_text import trial_lines
from reports.pages.context import page_context
from reports.pages.shot_sheet import sheet_page
from schemas.clubs import CLUB_GROUP, CLUBS
from schemas.course import DEFAULT_COURSES
from schemas.errors import NotFoundError, UsageError
from schemas.spreadsheet import csv_of
from schemas.trial_sheet import PowerLine, SheetShot, ShotSheet
from warehouse.connection import frame, scalar
from warehouse.marts import Marts

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    import duckdb

    from pipelines.measures.trial.design import TrialDesign
    from pipelines.measures.trial.noise import PlayerNoise
    from schemas.academy import Academy

FIFTH = 1.2
HISTORY_DAYS = 183

_HISTORY = """
select session_id, shot_no, club_speed_mps, carry_m, offline_m
from normal_swing
where player_id = ? and club = ? and on_date > ?
order by session_id, shot_no
"""

_NORMS = "select metric, club_group, from_on, worthwhile from trend_norm where from_on <= ? order by metric, club_group, from_on"


@dataclass(frozen=True)
class TrialWish:
    """What a coach asks for.

    Attributes
    ----------
    player_id, question : str
    arms : tuple of str
        By amount of the change, normal among them.
    normal_arm : str
    shots_per_arm : int or None
        None: as many as the player's own noise asks for.
    n_days : int
    club : str
    trial_id : str
        Empty: made from player and day.
    seed : int or None
        None: made from the trial's id.
    """

    player_id: str
    question: str
    arms: tuple[str, ...]
    normal_arm: str = "normal"
    shots_per_arm: int | None = None
    n_days: int = LEAST_DAYS
    club: str = "driver"
    trial_id: str = ""
    seed: int | None = None


@dataclass(frozen=True)
class SheetFiles:
    """Where a sheet was written.

    Attributes
    ----------
    html, csv : Path
        To print; and the order of shots as a table with room for what was felt.
    declaration : Path
        The trials file in the inbox: the next run takes it in.
    """

    html: Path
    csv: Path
    declaration: Path


def plan_trial(
    con: duckdb.DuckDBPyConnection, academy: Academy, wish: TrialWish, began_on: date, planned: frozenset[str] = frozenset()
) -> ShotSheet:
    """A shot sheet for one player and one change; ``planned`` are ids of sheets that no run has taken in yet.

    Raises
    ------
    NotFoundError
        When there is no such player.
    UsageError
        When arms, shots, days or club cannot make a trial, the id is taken, or a trials file cannot hold what is asked for.
    """
    alias = _alias(con, wish.player_id)
    if wish.club not in CLUBS:
        raise UsageError(f"{wish.club} is no club that shots can name.", f"Use one of: {', '.join(CLUBS)}.")
    own = own_noise(frame(con, _HISTORY, [wish.player_id, wish.club, began_on - timedelta(days=HISTORY_DAYS)]))
    trial_id = _free_id(con, wish, began_on, planned)
    worth_pct = worths_in_force(frame(con, _NORMS, [began_on]), CLUB_GROUP[wish.club], began_on).speed_pct
    proposed = proposed_shots(own.noise, worth_pct)
    seed = zlib.crc32(trial_id.encode()) if wish.seed is None else wish.seed
    design = _design(wish, proposed, seed)
    home = str(scalar(con, "select course from home_course where player_id = ?", [wish.player_id]) or academy.course)
    standard = scalar(con, "select standard from player where player_id = ?", [wish.player_id]) or academy.standard
    sheet = ShotSheet(
        trial_id=trial_id,
        player_id=wish.player_id,
        alias=alias,
        question=wish.question,
        normal_arm=wish.normal_arm,
        arms=wish.arms,
        club=wish.club,
        n_days=design.n_days,
        shots_per_arm=design.shots_per_arm,
        seed=seed,
        shots=tuple(SheetShot(**row) for row in design.shots.drop("round_no").iter_rows(named=True)),
        proposed=proposed,
        power=_power(own.noise, design.shots_per_arm, _home_cost(academy, home, str(standard)), seed, worth_pct),
        worth_pct=worth_pct,
        shots_for_fifth=shots_for_scatter(FIFTH, own.noise.mishit_rate),
        course=home,
        assumed=own.assumed,
    )
    require_loadable("trials", _declaration(sheet, began_on).row(0, named=True))
    return sheet


def _alias(con: duckdb.DuckDBPyConnection, player_id: str) -> str:
    alias = scalar(con, "select alias from player where player_id = ?", [player_id])
    if alias is None:
        raise NotFoundError(f"There is no player {player_id}.", "See the squad page, or the players file, for the ids.")
    return str(alias)


def _design(wish: TrialWish, proposed: int, seed: int) -> TrialDesign:
    try:
        return trial_design(wish.arms, wish.normal_arm, wish.shots_per_arm or proposed, seed, wish.n_days)
    except ValueError as fault:
        raise UsageError(
            f"This cannot be a trial: {fault}.", 'For example: --arms "normal, a little wider, much wider".'
        ) from fault


def planned_ids(root: Path) -> frozenset[str]:
    """Ids of the sheets that were written."""
    return frozenset(path.stem for path in (root / "sheets").glob("*.csv"))


def _free_id(con: duckdb.DuckDBPyConnection, wish: TrialWish, began_on: date, planned: frozenset[str]) -> str:
    known = "select count(*) from trial where trial_id = ?"
    if wish.trial_id:
        if wish.trial_id in planned or scalar(con, known, [wish.trial_id]):
            raise UsageError(f"There is a trial {wish.trial_id} already.", "Choose another id, or leave it out.")
        return wish.trial_id
    first = f"{wish.player_id[:40]}-{began_on:%Y%m%d}"
    names = (first if number == 1 else f"{first}-{number}" for number in range(1, 100))
    return next(name for name in names if name not in planned and not scalar(con, known, [name]))


def _home_cost(academy: Academy, home: str, standard: str) -> CourseCost | None:
    courses = {course.name: course for course in (*DEFAULT_COURSES, *academy.courses)}
    return CourseCost(courses[home], standard) if home in courses else None


def _power(noise: PlayerNoise, shots_per_arm: int, cost: CourseCost | None, seed: int, worth_pct: float) -> tuple[PowerLine, ...]:
    rng = np.random.default_rng(seed)
    sizes = sorted({*PLANNED, shots_per_arm})
    return tuple(PowerLine(**asdict(power_row(noise, size, cost, rng, worth_pct))) for size in sizes)


def write_sheet(root: Path, sheet: ShotSheet, academy: Academy, today: date) -> SheetFiles:
    """Write the printable sheet, its table, and the trials file that declares the trial."""
    folder = root / "sheets"
    folder.mkdir(parents=True, exist_ok=True)
    files = SheetFiles(
        folder / f"{sheet.trial_id}.html", folder / f"{sheet.trial_id}.csv", root / "inbox" / f"trials_{sheet.trial_id}.csv"
    )
    one_context = replace(page_context(academy, "coach", today), with_scripts=False)
    write_whole(files.html, sheet_page(sheet, one_context).encode())
    write_whole(files.csv, csv_of(_sheet_table(sheet)).encode())
    write_whole(files.declaration, csv_of(_declaration(sheet, today)).encode())
    return files


def _sheet_table(sheet: ShotSheet) -> pl.DataFrame:
    """The order of shots; block, arm, counts and trial are named as in a file of shots, so they can be copied over."""
    rows = [
        {
            "day_no": shot.day_no,
            "shot_no": shot.shot_no,
            "trial_id": sheet.trial_id if shot.arm else None,
            "arm": shot.arm,
            "block_no": shot.block_no,
            "counts": shot.counts,
            "felt": None,
        }
        for shot in sheet.shots
    ]
    return pl.DataFrame(rows, schema_overrides={"felt": pl.String, "block_no": pl.Int64, "arm": pl.String, "trial_id": pl.String})


def _declaration(sheet: ShotSheet, today: date) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "trial_id": [sheet.trial_id],
            "player_id": [sheet.player_id],
            "question": [sheet.question],
            "normal_arm": [sheet.normal_arm],
            "arms": [" | ".join(sheet.arms)],
            "began_on": [today],
            "sheet": [order_text([shot.arm for shot in sheet.shots if shot.day_no == day] for day in range(1, sheet.n_days + 1))],
        }
    )


def shown_trial(con: duckdb.DuckDBPyConnection, academy: Academy, trial_id: str, today: date) -> list[str]:
    """What one trial has shown, as lines of text in the academy's language.

    Raises
    ------
    NotFoundError
        When no trial has that id.
    """
    lines = trial_lines(Marts(con, "coach"), page_context(academy, "coach", today).numbers, trial_id)
    if not lines:
        known = frame(con, "select trial_id from trial_result order by trial_id")["trial_id"].to_list()
        raise NotFoundError(
            f"There is no trial {trial_id}.",
            f"Known: {', '.join(known) or 'none yet'}. One that was planned since the last run is known after `speedworth run`.",
        )
    return lines
