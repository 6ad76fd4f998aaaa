"""What was noted on a shot sheet: a line in a file for each tap, on the disk before the next shot is shown."""

from __future__ import annotations

import json
import os
import threading
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.measures.trial.labels import SHEET_SCHEMA
from pipelines.stages.desk_view import SHEETS
from pipelines.stages.intake.disk import sync_folder

if TYPE_CHECKING:
    from pathlib import Path

_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True)
class Noted:
    """One shot as it was noted.

    Attributes
    ----------
    sheet_no : int
    void : bool
        Struck, and not to be counted.
    felt : str
    at : datetime
        UTC.
    """

    sheet_no: int
    void: bool
    felt: str
    at: datetime


class SheetLog:
    """The notes of one day of one trial.

    Parameters
    ----------
    folder : Path
        The desk's own folder.
    player_id, trial_id : str
    day_no : int
    """

    def __init__(self, folder: Path, player_id: str, trial_id: str, day_no: int) -> None:
        self._path = folder / SHEETS / player_id / f"{trial_id}.{day_no}.jsonl"

    def noted(self) -> list[Noted]:
        """What stands, in the order of the sheet; taken back is not there."""
        found: dict[int, Noted] = {}
        seen: set[str] = set()
        for event in self._events():
            if event["form_id"] in seen:
                continue
            seen.add(event["form_id"])
            number = int(event["sheet_no"])
            if event["what"] == "undo":
                found.pop(number, None)
            elif number not in found:
                at = datetime.fromisoformat(event["at"])
                found[number] = Noted(number, event["what"] == "void", event["felt"], at)
        return [found[number] for number in sorted(found)]

    def _events(self) -> list[dict[str, Any]]:
        try:
            text = self._path.read_text(encoding="utf-8")
        except FileNotFoundError:
            return []
        whole = text[: text.rfind("\n") + 1]  # a line that was cut off when the machine stopped was never acknowledged
        return [json.loads(line) for line in whole.splitlines()]

    def note(self, form_id: str, what: str, sheet_no: int, felt: str, at: datetime) -> None:
        """Add one tap, and bring it onto the disk.

        Raises
        ------
        OSError
        """
        event = {"form_id": form_id, "what": what, "sheet_no": sheet_no, "felt": felt, "at": at.isoformat()}
        with _ONE_AT_A_TIME:
            is_new = not self._path.exists()
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle = os.open(self._path, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
            with open(handle, "r+b", closefd=True) as file:  # noqa: PTH123 - from a handle with our own mode
                self._drop_half_a_line(file)
                file.write((json.dumps(event) + "\n").encode())
                file.flush()
                os.fsync(file.fileno())
            if is_new:
                for folder in self._path.parents[:3]:  # the player's, that of all sheets, the desk's: each may be new too
                    sync_folder(folder)

    @staticmethod
    def _drop_half_a_line(file: Any) -> None:
        size = file.seek(0, os.SEEK_END)
        if size:
            file.seek(0)
            kept = file.read().rfind(b"\n") + 1
            if kept < size:
                file.truncate(kept)
        file.seek(0, os.SEEK_END)


def as_carried_out(planned: pl.DataFrame, noted: list[Noted]) -> pl.DataFrame:
    """The lines of a planned sheet that were noted, with time, word, and what was void; all lines when nothing was.

    Parameters
    ----------
    planned : polars.DataFrame
        ``SHEET_SCHEMA``.
    noted : list of Noted
    """
    if not noted:
        return planned
    rows = pl.DataFrame(
        [(one.sheet_no, one.void, one.felt or None, one.at.replace(tzinfo=None)) for one in noted],
        schema={"sheet_no": pl.Int64, "_void": pl.Boolean, "_felt": pl.String, "_at": pl.Datetime("us")},
        orient="row",
    )
    return (
        planned.join(rows, on="sheet_no", how="inner", maintain_order="left")
        .with_columns(
            (pl.col("counts") & ~pl.col("_void")).alias("counts"), pl.col("_felt").alias("felt"), pl.col("_at").alias("at")
        )
        .select(list(SHEET_SCHEMA))
    )
