"""The invented academy as a folder: settings, files in the inbox, and the truth beside them."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import asdict, replace
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING

import polars as pl

from pipelines.demo.cast import CAST, LAST_ON, START_ON
from pipelines.demo.damage import damaged, oddly_saved
from pipelines.demo.devices import DEVICES
from pipelines.demo.files import DemoFile, csv_bytes, native, period_files, player_files
from pipelines.demo.foreign import foreign_files
from pipelines.demo.mappings_text import MAPPINGS
from pipelines.demo.settings_text import SETTINGS_TEXT
from pipelines.demo.squad import Squad, squad
from pipelines.demo.stories import DECOYS, PROGRAMMES, QUIET_PLAYERS, STORIES, TOLERATED
from pipelines.demo.trials import TRIALS
from pipelines.demo.truth import DemoTruth, known_by
from pipelines.workspace import Workspace, create_workspace
from schemas.errors import WorkspaceError

if TYPE_CHECKING:
    from pathlib import Path

TRUTH_FILE = "truth.json"
_PERIOD_KINDS = ("sessions", "shots", "checkins", "problems", "absences", "plans", "mobility", "rounds", "changes")


def academy_files(seed: int, until_on: date = LAST_ON, n_players: int = len(CAST)) -> tuple[list[DemoFile], DemoTruth]:
    """Everything that lies in the inbox of the invented academy on a day, and what is true of it.

    Parameters
    ----------
    seed : int
        Zero or more; the same seed gives the same bytes.
    until_on : datetime.date
        Last day with data, from 2024-04-01 to 2026-09-30.
    n_players : int
        The first so many of the 24 players.

    Raises
    ------
    ValueError
        When the day or the number of players is outside these limits.
    """
    if not date(2024, 4, 1) <= until_on <= LAST_ON:
        raise ValueError(f"the invented academy ends on a day from 2024-04-01 to {LAST_ON}, not on {until_on}")
    if not 1 <= n_players <= len(CAST):
        raise ValueError(f"the invented academy has 1 to {len(CAST)} players, not {n_players}")
    players = tuple(player for player in CAST[:n_players] if player.joined_on <= until_on)
    spoilt = damaged(squad(players, seed), until_on)
    everything = spoilt.squad
    files = player_files(players, until_on) + _trial_files(frozenset(player.player_id for player in players), until_on)
    foreign, own_shots = foreign_files(everything.shots, until_on)
    for kind in _PERIOD_KINDS:
        files += period_files(own_shots if kind == "shots" else getattr(everything, kind), kind, until_on)
    files, saved = oddly_saved(files)
    files += (*spoilt.files, *foreign)
    truth = known_by(_whole_truth(seed), until_on, frozenset(player.player_id for player in players))
    truth = replace(truth, files=tuple(sorted((*spoilt.truths, *saved), key=lambda file: file.name)))
    return sorted(files, key=lambda file: file.name), _counted(truth, everything, len(files))


def write_academy(folder: Path, seed: int = 7, until_on: date = LAST_ON, n_players: int = len(CAST)) -> DemoTruth:
    """Write the invented academy: ``academy.toml``, ``mappings/``, ``inbox/`` and ``truth.json``; see :func:`academy_files`.

    Every file carries the time at which somebody would have dropped it, so that newer files correct older ones.
    """
    files, truth = academy_files(seed, until_on, n_players)
    for name in ("inbox", "mappings"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    (folder / "academy.toml").write_text(SETTINGS_TEXT, encoding="utf-8")
    for name, text in MAPPINGS.items():
        (folder / "mappings" / f"{name}.toml").write_text(text, encoding="utf-8")
    for file in files:
        path = folder / "inbox" / file.name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(file.content)
        dropped_at = datetime.combine(file.modified_on, time(20), tzinfo=UTC).timestamp()
        os.utime(path, (dropped_at, dropped_at))
    (folder / TRUTH_FILE).write_text(truth_text(truth), encoding="utf-8")
    return truth


def truth_text(truth: DemoTruth) -> str:
    """The truth as JSON."""
    return json.dumps(asdict(truth), indent=1, default=str, ensure_ascii=False) + "\n"


def _whole_truth(seed: int) -> DemoTruth:
    return DemoTruth(
        seed=seed,
        from_on=START_ON,
        until_on=LAST_ON,
        stories=STORIES,
        tolerated=TOLERATED,
        decoys=DECOYS,
        programmes=PROGRAMMES,
        trials=tuple(trial.truth for trial in TRIALS),
        files=(),
        quiet_players=QUIET_PLAYERS,
        without_consent=tuple(player.player_id for player in CAST if not player.consent),
        device_offsets={name: device.club_speed_share for name, device in DEVICES.items()},
    )


def _counted(truth: DemoTruth, everything: Squad, n_files: int) -> DemoTruth:
    def rows(frame: pl.DataFrame) -> int:
        return frame.filter(pl.col("on") <= truth.until_on).height

    return replace(
        truth,
        n_files=n_files,
        n_shots=rows(everything.shots),
        n_sessions=rows(everything.sessions),
        n_checkins=rows(everything.checkins),
    )


def _trial_files(player_ids: frozenset[str], until_on: date) -> list[DemoFile]:
    files = []
    for trial in TRIALS:
        truth, began_on = trial.truth, trial.days[0]
        if truth.player_id not in player_ids or began_on > until_on:
            continue
        frame = pl.DataFrame(
            {
                "trial_id": [truth.trial_id],
                "player_id": [truth.player_id],
                "question": [trial.question],
                "normal_arm": [truth.arms[0].arm],
                "arms": [" | ".join(arm.arm for arm in truth.arms)],
                "began_on": [began_on],
            }
        )
        files.append(DemoFile(f"trials_{truth.trial_id}.csv", csv_bytes(native(frame, "trials")), began_on, 1))
    return files


def invented_academy(folder: Path) -> Workspace:
    """The demo's workspace in ``folder``, written when it is not there yet.

    Raises
    ------
    WorkspaceError
        When the folder holds something else, or cannot be written.
    """
    workspace = Workspace(folder)
    if (folder / TRUTH_FILE).exists():
        return workspace
    if folder.exists() and any(folder.iterdir()):
        raise WorkspaceError(f"{folder} is not empty, and no invented academy.", "Choose another folder.")
    part = Workspace(folder.with_name(folder.name + ".part"))
    shutil.rmtree(part.root, ignore_errors=True)
    create_workspace(part.root)
    write_academy(part.root)
    if folder.exists():
        folder.rmdir()
    part.root.rename(folder)
    return workspace
