"""The one record of a player, as pages read it: level, comparison, strokes and open flags, from which every sentence derives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.findings.trend import verdict

if TYPE_CHECKING:
    from reports.findings.trend import Verdict
    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

Row = dict[str, Any]

FLAGS = {"coach": "mart_flag_coach", "physio": "mart_flag_physio", "player": "mart_flag_player"}
"""Flags that each reader may see."""


@dataclass(frozen=True)
class Story:
    """What is known of one player.

    Attributes
    ----------
    speed : dict or None
        Driver speed: level, its change in 28 days, the probabilities of that, with the names of ``mart_trend``.
    then : dict or None
        The level of a year ago or the first normal, with the names of ``mart_lasting``.
    strokes : dict or None
        The newest month on the home course, with the names of ``mart_stroke_month``.
    flags : tuple of dict
        Open flags that the reader may see.
    """

    speed: Row | None
    then: Row | None
    strokes: Row | None
    flags: tuple[Row, ...]

    @property
    def is_past(self) -> bool:
        """Whether the newest driver speed lies so far back that nothing can be said of the last four weeks."""
        return self.speed is not None and bool(self.speed.get("is_past"))

    @property
    def now(self) -> tuple[float | None, float | None]:
        """The ends of the interval in which a level of the past may lie by now; None each where it is not of the past."""
        return (None, None) if self.speed is None else (self.speed.get("now_low"), self.speed.get("now_high"))

    @property
    def called(self) -> Verdict | None:
        """What the change in 28 days is called; None without driver speeds."""
        return None if self.speed is None else verdict(self.speed)


def as_of_now(row: Row, player: PlayerMarts) -> Row:
    """A row of ``mart_trend`` that knows whether it is of the past, and where the level may lie by now if it is."""
    past = player.listed("mart_trend_past", club_group=row["club_group"], metric=row["metric"])
    now = {name: past[0][name] if past else None for name in ("now_low", "now_high")}
    return row | {"is_past": bool(past)} | now


def as_flagged(row: Row, story: Story) -> Row:
    """A row of ``mart_trend``: a rise is said to have stopped only where an open flag says so, and only of driver speed."""
    is_driver = (row["metric"], row["club_group"]) == ("club_speed_mps", "driver")
    told = is_driver and story.speed is not None and story.speed["is_stalled"]
    return row if told or row["state"] != "stalled" else row | {"state": "steady"}


def story_of(player: PlayerMarts, context: PageContext) -> Story:
    """The record of one player for this reader."""
    flags = tuple(row for row in player.listed(FLAGS[context.audience]) if row["closed_on"] is None)
    return _told(next(iter(player.listed("mart_story")), None), flags)


def record_of(player: PlayerMarts) -> Story:
    """The same without flags: what is known for every reader alike."""
    return _told(next(iter(player.listed("mart_story")), None), ())


def story_row(row: Row) -> Story:
    """The same from a row of ``mart_story`` alone, for pages about many players."""
    return _told(row, ())


def _told(row: Row | None, flags: tuple[Row, ...]) -> Story:
    if row is None:
        return Story(None, None, None, flags)
    speed = None if row["level"] is None else row | {"metric": "club_speed_mps", "club_group": "driver"}
    return Story(speed, _part(row, "then", "then_on"), _part(row, "strokes", "strokes_month_on"), flags)


def _part(row: Row, prefix: str, key: str) -> Row | None:
    """The columns of one prefix under the names that they have in their own mart; None where they are null."""
    if row[key] is None:
        return None
    return {name if name in {"then_on", "then_level"} else name.removeprefix(f"{prefix}_"): value
            for name, value in row.items() if name.startswith(f"{prefix}_")}  # fmt: skip
