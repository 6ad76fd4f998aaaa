"""From frames to the files that somebody would have dropped into the inbox: names, days, texts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipelines.demo.cast import HOME_COURSES, START_ON, Player
from schemas.files import KINDS
from schemas.spreadsheet import csv_of

TIME_ZONE = "Europe/Copenhagen"
_AWAY = frozenset[str]().union(*HOME_COURSES.values())
DAILY_FROM = date(2026, 1, 1)
"""Until here the shots come once a week, then every day."""


@dataclass(frozen=True)
class DemoFile:
    """One file as it will lie in the academy's folder.

    Attributes
    ----------
    name : str
        Path below the inbox.
    content : bytes
    modified_on : datetime.date
        Day on which it was last changed; the file system is told so.
    n_rows : int
    """

    name: str
    content: bytes
    modified_on: date
    n_rows: int


def csv_bytes(frame: pl.DataFrame) -> bytes:
    """A native CSV file."""
    return csv_of(frame).encode()


def dated(frame: pl.DataFrame) -> pl.DataFrame:
    """The frame with ``on``, the date of its ``day`` number."""
    return frame.with_columns(on=pl.lit(START_ON) + pl.duration(days=pl.col("day")))


def native(frame: pl.DataFrame, kind: str) -> pl.DataFrame:
    """The columns of a kind of file that the frame has, in the order of the kind."""
    return frame.select(name for name in KINDS[kind].names if name in frame.columns)


def _weekly() -> pl.Expr:
    return pl.col("on").dt.strftime("%G-W%V")


def _period(kind: str) -> pl.Expr:
    monthly = pl.col("on").dt.strftime("%Y-%m")
    daily = pl.col("on").dt.strftime("%Y-%m-%d")
    periods = {
        "sessions": _weekly(),
        "checkins": _weekly(),
        "shots": pl.when(pl.col("on") >= DAILY_FROM).then(daily).otherwise(_weekly()),
        "problems": monthly,
        "plans": monthly,
        "rounds": monthly,
        "absences": pl.col("on").dt.strftime("%Y"),
        "mobility": daily,
        "changes": daily,
    }
    return periods[kind]


def _dropped_on(kind: str, last_on: date, until_on: date) -> date:
    """Day on which the file of a period is complete: plans come before their month, all else at its end."""
    if kind == "plans":
        return max(last_on.replace(day=1) - timedelta(days=3), START_ON)
    return min(last_on, until_on)


def period_files(frame: pl.DataFrame, kind: str, until_on: date) -> list[DemoFile]:
    """One file for each period of a frame with the column ``on``, rows in order of days and players."""
    ordered = frame.with_columns(period=_period(kind)).filter(pl.col("on") <= until_on)
    files = []
    for (period,), part in ordered.partition_by("period", as_dict=True, maintain_order=True).items():
        rows = native(part, kind)
        last_on = part["on"].max()
        modified_on = _dropped_on(kind, last_on if isinstance(last_on, date) else until_on, until_on)
        files.append(DemoFile(f"{kind}_{period}.csv", csv_bytes(rows), modified_on, rows.height))
    return files


def player_files(players: tuple[Player, ...], until_on: date) -> list[DemoFile]:
    """One file of players for each day on which some joined; who has left is written once more."""
    joined = sorted({player.joined_on for player in players if player.joined_on <= until_on})
    files = [_player_file([player for player in players if player.joined_on == on], on, leaving=False) for on in joined]
    left = sorted({player.left_on for player in players if player.left_on and player.left_on <= until_on})
    return files + [_player_file([player for player in players if player.left_on == on], on, leaving=True) for on in left]


def _player_file(players: list[Player], on: date, *, leaving: bool) -> DemoFile:
    frame = pl.DataFrame(
        {
            "player_id": [player.player_id for player in players],
            "alias": [player.alias for player in players],
            "groups": pl.Series([player.groups or None for player in players], dtype=pl.String),
            "course": pl.Series(
                [player.home_course if player.player_id in _AWAY else None for player in players], dtype=pl.String
            ),
            "birth_year": [player.birth_year for player in players],
            "sex": [player.sex for player in players],
            "handed": [player.handed for player in players],
            "joined_on": [player.joined_on for player in players],
            "left_on": pl.Series([player.left_on if leaving else None for player in players], dtype=pl.Date),
            "standard": [player.standard for player in players],
            "health_consent": [player.consent for player in players],
            "height_cm": [player.height_cm for player in players],
        }
    )
    return DemoFile(f"players_{on}.csv", csv_bytes(native(frame, "players")), on, frame.height)
