"""What is true in the invented academy: what a reader of its files should find, and what should stay silent."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date


@dataclass(frozen=True)
class Story:
    """One thing that flags must find.

    Attributes
    ----------
    player_id : str
        Empty: about a device.
    kind : str
        Kind of flag.
    onset_on, latest_on : datetime.date
        First day on which it is true, and last night by which it should have been found.
    note : str
    metric, region, club_group, device_id : str
        Empty where any will do.
    """

    player_id: str
    kind: str
    onset_on: date
    latest_on: date
    note: str
    metric: str = ""
    region: str = ""
    club_group: str = ""
    device_id: str = ""


@dataclass(frozen=True)
class Tolerated:
    """A flag that is no error: a true consequence of a story, or a true change too small to be promised.

    Attributes
    ----------
    player_id, kind : str
    from_on, until_on : datetime.date
    note : str
    """

    player_id: str
    kind: str
    from_on: date
    until_on: date
    note: str


@dataclass(frozen=True)
class Decoy:
    """Something that looks like news and is none.

    Attributes
    ----------
    player_id : str
        Empty: the whole squad.
    what : str
    from_on, until_on : datetime.date
    silent : tuple of str
        Kinds of flags that must not come of it.
    note : str
    """

    player_id: str
    what: str
    from_on: date
    until_on: date
    silent: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class ProgrammeTruth:
    """What a block of training or technique truly did to one player: shares of speed and scatter over its length."""

    player_id: str
    phase: str
    from_on: date
    until_on: date
    speed: float
    scatter: float = 0.0


@dataclass(frozen=True)
class ArmTruth:
    """What one arm of a trial truly does, beside the player's normal: shares of speed and scatter, degrees and millimetres."""

    arm: str
    speed: float = 0.0
    scatter: float = 0.0
    path_deg: float = 0.0
    attack_deg: float = 0.0
    loft_deg: float = 0.0
    strike_side_mm: float = 0.0


@dataclass(frozen=True)
class TrialTruth:
    """One technique trial and the verdict that a careful reader should reach.

    Attributes
    ----------
    trial_id, player_id, verdict, note : str
        ``verdict``: keep, keep testing or go back, on the tree-lined course.
    arms : tuple of ArmTruth
        The first is normal.
    """

    trial_id: str
    player_id: str
    verdict: str
    note: str
    arms: tuple[ArmTruth, ...]


@dataclass(frozen=True)
class RejectedRow:
    """A row that must go to quarantine: its line (the header is 1), column and the code of the rule."""

    line: int
    column: str
    rule: str


@dataclass(frozen=True)
class FileTruth:
    """What must become of a file that is not simply taken in.

    Attributes
    ----------
    name : str
        Path below the inbox.
    outcome : str
        partly (good rows go on), held, duplicate (changes nothing), corrects (replaces rows of an earlier file), mapped.
    n_rows : int
        Rows in the file, without header; for a held file as many as can be counted.
    note : str
    rejected, doubted, emptied : tuple of RejectedRow
        Rows that go to quarantine, rows that are loaded with a warning, and rows that are loaded without one bad cell.
    """

    name: str
    outcome: str
    n_rows: int
    note: str
    rejected: tuple[RejectedRow, ...] = ()
    doubted: tuple[RejectedRow, ...] = ()
    emptied: tuple[RejectedRow, ...] = ()


@dataclass(frozen=True)
class DemoTruth:
    """Everything that is true of one invented academy, as far as its last day.

    Attributes
    ----------
    seed : int
    from_on, until_on : datetime.date
    stories, tolerated, decoys, programmes, trials, files : tuple
    quiet_players : tuple of str
        Players without any alert.
    without_consent : tuple of str
        Players of whom nothing of the body may be kept.
    device_offsets : dict
        Device to the share by which it reads club speed high.
    n_files, n_shots, n_sessions, n_checkins : int
        What was written, damaged files left out.
    """

    seed: int
    from_on: date
    until_on: date
    stories: tuple[Story, ...]
    tolerated: tuple[Tolerated, ...]
    decoys: tuple[Decoy, ...]
    programmes: tuple[ProgrammeTruth, ...]
    trials: tuple[TrialTruth, ...]
    files: tuple[FileTruth, ...]
    quiet_players: tuple[str, ...]
    without_consent: tuple[str, ...]
    device_offsets: dict[str, float]
    n_files: int = 0
    n_shots: int = 0
    n_sessions: int = 0
    n_checkins: int = 0


def known_by(truth: DemoTruth, until_on: date, player_ids: frozenset[str]) -> DemoTruth:
    """The truth that is left when the files end on a day and hold only some players."""
    here = player_ids | {""}
    return replace(
        truth,
        until_on=until_on,
        stories=tuple(story for story in truth.stories if story.latest_on <= until_on and story.player_id in here),
        tolerated=tuple(item for item in truth.tolerated if item.from_on <= until_on and item.player_id in here),
        decoys=tuple(decoy for decoy in truth.decoys if decoy.from_on <= until_on and decoy.player_id in here),
        programmes=tuple(one for one in truth.programmes if one.until_on <= until_on and one.player_id in here),
        trials=tuple(trial for trial in truth.trials if trial.player_id in here),
        quiet_players=tuple(player for player in truth.quiet_players if player in here),
        without_consent=tuple(player for player in truth.without_consent if player in here),
    )
