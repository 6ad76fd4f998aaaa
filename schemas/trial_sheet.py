"""The shot sheet of a planned trial: what is printed and written into the workspace."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SheetShot:
    """One shot of the sheet.

    Attributes
    ----------
    day_no, shot_no : int
        Both from 1; shots are numbered within the day, warm-up included.
    block_no : int or None
        None: warm-up.
    arm : str or None
    counts : bool
    closing : bool
        Of the closing block of normal.
    """

    day_no: int
    shot_no: int
    block_no: int | None
    arm: str | None
    counts: bool
    closing: bool


@dataclass(frozen=True)
class PowerLine:
    """What one number of shots an arm can show.

    Attributes
    ----------
    shots_per_arm : int
    smallest_speed_pct : float
        Gain that is told from nothing four times in five [%].
    chance_of_twice : float
        Chance that a true gain of twice what matters is called worthwhile, 0 to 1.
    smallest_scatter : float
        Ratio of left-right scatter that is told from 1 four times in five.
    smallest_strokes : float or None
        Difference that is told from none four times in five [strokes a round].
    """

    shots_per_arm: int
    smallest_speed_pct: float
    chance_of_twice: float
    smallest_scatter: float
    smallest_strokes: float | None


@dataclass(frozen=True)
class ShotSheet:
    """A planned trial with what it can show.

    Attributes
    ----------
    trial_id, player_id, alias, question, normal_arm : str
    arms : tuple of str
        By amount of the change.
    club : str
    n_days, shots_per_arm, seed : int
    shots : tuple of SheetShot
    proposed : int
        Shots an arm that the player's own noise asks for.
    power : tuple of PowerLine
        By shots an arm; one line is that of this sheet.
    worth_pct : float
        Smallest worthwhile gain of club speed [%].
    shots_for_fifth : int
        Shots an arm that show a fifth more scatter.
    course : str
        Course of ``smallest_strokes``.
    assumed : tuple of str
        Parts of the player's noise that are assumptions: speed, session, carry, offline.
    """

    trial_id: str
    player_id: str
    alias: str
    question: str
    normal_arm: str
    arms: tuple[str, ...]
    club: str
    n_days: int
    shots_per_arm: int
    seed: int
    shots: tuple[SheetShot, ...]
    proposed: int
    power: tuple[PowerLine, ...]
    worth_pct: float
    shots_for_fifth: int
    course: str
    assumed: tuple[str, ...]

    @property
    def own_power(self) -> PowerLine:
        """What this sheet's number of shots can show."""
        return next(line for line in self.power if line.shots_per_arm == self.shots_per_arm)
