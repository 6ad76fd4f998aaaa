"""What forms show: the rows that the last intake or night left, read again when the file has changed."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from pipelines.stages.desk_view import RATINGS, VIEW
from schemas.marts.flags import PHYSIO
from schemas.natural_order import natural_key

if TYPE_CHECKING:
    from pathlib import Path

FIRST_ITEMS = ("fatigue", "soreness", "sleep_h", "stiff_lower_back")
"""Asked of a player of whom nothing is known yet; any other region can be opened."""

_EMPTY: dict[str, Any] = {
    "written_at": "1970-01-01T00:00:00Z",
    "players": {},
    "groups": {},
    "usual": {},
    "felt": {},
    "answered": {},
    "form_weeks": {},
    "rested": {},
    "played": {},
    "without_effort": [],
    "flags": {"coach": [], "physio": []},
    "trials": [],
    "plans": [],
    "absences": [],
    "files": [],
    "heard": [],
}

_DAYS = tuple(column.name for column in PHYSIO.columns if column.kind == "day")
"""What of a finding is a day: a page says it in words."""
_BY_PLAYER = tuple(name for name in _EMPTY if name not in {"written_at", "flags", "files"})
"""Parts whose rows are each about one player, or planned for one group: by player id, or in a list."""


@dataclass(frozen=True)
class View:
    """The rows.

    Attributes
    ----------
    rows : dict
        As :func:`pipelines.stages.desk_view.desk_view` makes them.
    """

    rows: dict[str, Any] = field(default_factory=lambda: _EMPTY)

    @property
    def written_at(self) -> datetime:
        """When an intake or night left it (UTC)."""
        return datetime.fromisoformat(self.rows["written_at"])

    def of_groups(self, groups: tuple[str, ...]) -> View:
        """What is about the members of these groups, and nothing else; files are nobody's, and left out."""
        shared = {player_id: sorted(set(groups) & set(names)) for player_id, names in self.rows["groups"].items()}
        here = {player_id for player_id, names in shared.items() if names}

        def mine(rows: Any) -> Any:
            if isinstance(rows, dict):
                return {player_id: row for player_id, row in rows.items() if player_id in here}
            return [row for row in rows if row["player_id"] in here or row.get("group_name") in groups]

        told = {name: mine(self.rows[name]) for name in _BY_PLAYER}
        flags = {role: mine(rows) for role, rows in self.rows["flags"].items()}
        told["groups"] = {player_id: shared[player_id] for player_id in here}
        return View({**_EMPTY, **told, "flags": flags, "written_at": self.rows["written_at"]})

    def group_names(self) -> list[str]:
        """Groups with a member, by name."""
        return sorted({name for names in self.rows["groups"].values() for name in names}, key=natural_key)

    def members(self, group: str) -> set[str]:
        """Ids of the players in a group."""
        return {player_id for player_id, names in self.rows["groups"].items() if group in names}

    def player(self, player_id: str) -> dict[str, Any] | None:
        """A player's row; None when there is none."""
        found: dict[str, Any] | None = self.rows["players"].get(player_id)
        return found

    def players(self) -> list[dict[str, Any]]:
        """Players who have not left, by alias."""
        here = [row for row in self.rows["players"].values() if not row["left_on"]]
        return sorted(here, key=lambda row: (natural_key(row["alias"]), row["player_id"]))

    def asked_ratings(self, player_id: str) -> list[str]:
        """Items of the check-in, without regions, that this player is usually asked."""
        return [item for item in self._usual(player_id) if item in RATINGS]

    def felt_regions(self, player_id: str) -> list[str]:
        """Regions of which this player has told lately: they stand open in the form."""
        return list(self.rows["felt"].get(player_id, []))

    def asked_regions(self, player_id: str) -> list[str]:
        """Regions that this player usually rates."""
        return [item.removeprefix("stiff_") for item in self._usual(player_id) if item.startswith("stiff_")]

    def _usual(self, player_id: str) -> list[str]:
        return self.rows["usual"].get(player_id) or list(FIRST_ITEMS)

    def has_answered(self, player_id: str, day: date) -> bool:
        """Whether a check-in of that day is in the warehouse."""
        return day.isoformat() in self.rows["answered"].get(player_id, [])

    def has_rested(self, player_id: str, day: date) -> bool:
        """Whether a day of rest is in the warehouse."""
        return day.isoformat() in self.rows["rested"].get(player_id, [])

    def has_form(self, player_id: str, week_ending: date) -> bool:
        """Whether that week's problem form is in the warehouse."""
        return week_ending.isoformat() in self.rows["form_weeks"].get(player_id, [])

    def without_effort(self, player_id: str) -> list[dict[str, Any]]:
        """Sessions still without an effort, the newest first."""
        rows = [row for row in self.rows["without_effort"] if row["player_id"] == player_id]
        return sorted(rows, key=lambda row: row["started_at"], reverse=True)

    def flags(self, role: str) -> list[dict[str, Any]]:
        """Open findings that the role may see, in order of concern."""
        return [
            {**row, **{name: date.fromisoformat(row[name]) if row.get(name) else None for name in _DAYS}}
            for row in self.rows["flags"].get(role, [])
        ]


class ViewFile:
    """The file, and what was last read from it.

    Parameters
    ----------
    folder : Path
        The desk's own folder.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / VIEW
        self._stamp: tuple[int, int] = (0, 0)
        self._view = View()

    def read(self) -> View:
        """The rows as they are now; empty ones before the first night."""
        try:
            status = self._path.stat()
        except FileNotFoundError:
            return View()
        stamp = (status.st_mtime_ns, status.st_ino)
        if stamp != self._stamp:
            self._view = View({**_EMPTY, **json.loads(self._path.read_text(encoding="utf-8"))})
            self._stamp = stamp
        return self._view


def week_ended(today: date) -> date:
    """The last Sunday before ``today``, or ``today`` when it is one: the week that the problem form is about."""
    return today - timedelta(days=(today.weekday() + 1) % 7)


def utc_now() -> datetime:
    """The clock."""
    return datetime.now(UTC)
