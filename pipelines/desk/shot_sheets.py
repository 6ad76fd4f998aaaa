"""The coach's shot sheets: plan a trial, note shot by shot, and join the sheet with the device's file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import polars as pl
from starlette.responses import HTMLResponse

from pipelines.desk.handing import FORM_ID, Paper
from pipelines.desk.keys import HandIn
from pipelines.desk.sheet_log import SheetLog, as_carried_out
from pipelines.desk.trial_ends import RULES, waiting_ends
from pipelines.desk.visit import day_in
from pipelines.measures.trial.sheet import arms_in
from pipelines.stages.trial_label import (
    DeclaredTrial,
    LabelledSession,
    correction_rows,
    labelled,
    near_sessions,
    numbers_in,
    planned_lines,
    sheet_days,
)
from pipelines.stages.trial_plan import TrialWish, plan_trial, planned_ids, write_sheet
from schemas.errors import NotFoundError, UsageError
from warehouse.connection import open_warehouse
from warehouse.trial import shots_of_session

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.responses import Response

    from pipelines.desk.sheet_log import Noted
    from pipelines.desk.visit import Visit

LONGEST_FELT = 60
_SHOWN = 6
"""Shots already noted that stay in sight."""
_ANNOUNCED_DAYS, _MOST_DIGITS = 366, 9


@dataclass(frozen=True)
class Sheet:
    """One day of a trial's sheet, as its address names it.

    Attributes
    ----------
    trial : DeclaredTrial
    alias, question : str
    day_no : int
    lines : polars.DataFrame
        ``SHEET_SCHEMA``, as planned.
    log : SheetLog
    ended_on : date or None
    end_rule : str or None
    """

    trial: DeclaredTrial
    alias: str
    question: str
    day_no: int
    lines: pl.DataFrame
    log: SheetLog
    ended_on: date | None
    end_rule: str | None

    def asks_for(self, day: date) -> bool:
        """Whether a shot of that day would still count."""
        return self.ended_on is None or day <= self.ended_on


def _root(visit: Visit) -> Path:
    return visit.desk.workspace.root


def _trials(visit: Visit) -> list[dict[str, Any]]:
    """Declared trials with the days of their sheets, the newest first."""
    rows = visit.view.rows["trials"]
    ends = waiting_ends(visit)
    return [
        {**row, **_end_of(row), "days": sheet_days(_root(visit), row["trial_id"]), "end_waits": row["trial_id"] in ends}
        for row in rows
    ]


def _end_of(row: dict[str, Any]) -> dict[str, date | None]:
    return {name: day_in(row.get(name) or "") for name in ("began_on", "ended_on")}


def whole_number(text: str) -> int | None:
    """A number from an address or a form; None for anything else, and for one with more digits than anything here counts."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= _MOST_DIGITS else None


def _asked(visit: Visit) -> Sheet | None:
    """The sheet that the address names; None when there is none."""
    trial_id, day = visit.request.path_params["trial_id"], visit.request.path_params["day"]
    row = next((row for row in visit.view.rows["trials"] if row["trial_id"] == trial_id), None)
    number = whole_number(day)
    if row is None or number is None:
        return None
    try:
        lines = planned_lines(_root(visit), trial_id, number)
    except NotFoundError:
        return None
    trial = DeclaredTrial(trial_id, row["player_id"], arms_in(row["arms"]), date.fromisoformat(row["began_on"]))
    log = SheetLog(visit.desk.workspace.desk, row["player_id"], trial_id, number)
    alias, ended_on = row["alias"] or row["player_id"], _end_of(row)["ended_on"]
    return Sheet(trial, alias, row["question"], number, lines, log, ended_on, row.get("end_rule"))


def sheets(visit: Visit) -> Response:
    """Trials with a sheet, and the form that plans one."""
    trials = [row for row in _trials(visit) if row["days"]]
    waiting = sorted(_planned(visit) - {row["trial_id"] for row in visit.view.rows["trials"]})
    return visit.page(
        "sheets",
        visit.words("desk.sheets.title"),
        trials=trials,
        waiting=waiting,
        players=visit.view.players(),
        rules=RULES,
        done=visit.request.query_params.get("done", ""),
    )


def _planned(visit: Visit) -> frozenset[str]:
    """Ids of the sheets that this coach may see: of a limited key, those of the own players, and those planned with it."""
    planned = planned_ids(_root(visit))
    if visit.me.groups is None:
        return planned
    own = {row["trial_id"] for row in visit.view.rows["trials"]}
    return planned & (own | {item.about for item in visit.lately(_ANNOUNCED_DAYS) if item.kind == "trials"})


def plan(visit: Visit) -> Response:
    """Plan a trial: its sheet is written, and it is declared by a file in the inbox."""
    form_id = visit.field("form_id")
    if not FORM_ID.fullmatch(form_id):
        return visit.refused(422, "desk.form_unknown")
    if visit.desk.keys.handed_in(visit.me.subject, form_id) is not None:
        return visit.go("/sheets?done=planned")
    began_on, shots = _day_of(visit), visit.field("shots")
    arms = tuple(arm.strip() for arm in visit.field("arms").split(",") if arm.strip())
    if began_on is None or (shots and whole_number(shots) is None):
        return visit.refused(422, "desk.number_unknown")
    if visit.view.player(visit.field("player_id")) is None or not visit.field("question") or not arms:
        return visit.refused(422, "desk.sheets.incomplete")
    wish = TrialWish(visit.field("player_id"), visit.field("question"), arms, arms[0], whole_number(shots))
    academy, root = visit.desk.academy, _root(visit)
    try:
        with open_warehouse(visit.desk.workspace.warehouse, read_only=True) as con:
            sheet = plan_trial(con, academy, wish, began_on, planned_ids(root))
    except UsageError:
        return visit.refused(422, "desk.sheets.unfit")
    files = write_sheet(root, sheet, academy, began_on)
    done = HandIn("trials", sheet.trial_id, files.declaration.name, visit.desk.clock())
    visit.desk.keys.record(visit.me, form_id, done, "")
    return visit.go("/sheets?done=planned")


def _day_of(visit: Visit) -> date | None:
    """The first day that the form names; today when it names none; None when it cannot be."""
    text, today = visit.field("began_on"), visit.desk.today()
    day = day_in(text) if text else today
    return day if day is not None and abs((day - today).days) <= _ANNOUNCED_DAYS else None


def printed(visit: Visit) -> Response:
    """The sheet as it was written for paper."""
    trial_id = visit.request.path_params["trial_id"]
    if trial_id not in _planned(visit):
        return visit.refused(404, "desk.nothing_here")
    return HTMLResponse((_root(visit) / "sheets" / f"{trial_id}.html").read_text(encoding="utf-8"))


def sheet_page(visit: Visit) -> Response:
    """The next shot in large letters, and what was noted last."""
    sheet = _asked(visit)
    if sheet is None:
        return visit.refused(404, "desk.sheets.unknown")
    noted = sheet.log.noted()
    rows = sheet.lines.to_dicts()
    return visit.page(
        "sheet",
        visit.words("desk.sheets.of", alias=sheet.alias, day=sheet.day_no),
        sheet=sheet,
        at=_address(sheet),
        line=_next_line(sheet, noted) if sheet.asks_for(visit.desk.today()) else None,
        is_ended=not sheet.asks_for(visit.desk.today()),
        n_lines=len(rows),
        n_noted=len(noted),
        last=noted[-1].sheet_no if noted else None,
        noted=[{**rows[one.sheet_no - 1], "void": one.void, "felt": one.felt} for one in noted[: -_SHOWN - 1 : -1]],
        heard=sorted({one.felt for one in noted if one.felt}),
        longest=LONGEST_FELT,
    )


def _address(sheet: Sheet) -> str:
    return f"/sheets/{sheet.trial.trial_id}/{sheet.day_no}"


def _next_line(sheet: Sheet, noted: list[Noted]) -> dict[str, Any] | None:
    done = {one.sheet_no for one in noted}
    return next((row for row in sheet.lines.iter_rows(named=True) if row["sheet_no"] not in done), None)


def note(visit: Visit) -> Response:
    """Note one shot, or take the last one back."""
    sheet, what, number = _asked(visit), visit.field("what"), whole_number(visit.field("sheet_no"))
    if sheet is None:
        return visit.refused(404, "desk.sheets.unknown")
    is_known = number is not None and 1 <= number <= sheet.lines.height
    if what not in {"struck", "void", "undo"} or number is None or not is_known or not FORM_ID.fullmatch(visit.field("form_id")):
        return visit.refused(422, "desk.form_unknown")
    felt = " ".join(visit.field("felt").split())
    if len(felt) > LONGEST_FELT:
        return visit.refused(422, "desk.sheets.too_long", n=LONGEST_FELT)
    if what != "undo" and any(one.sheet_no == number for one in sheet.log.noted()):
        return visit.go(_address(sheet))  # noted on another phone meanwhile: show what is next
    if what != "undo" and not sheet.asks_for(visit.desk.today()):
        return visit.go(_address(sheet))  # ended meanwhile: the page says so
    sheet.log.note(visit.field("form_id"), what, number, felt, visit.desk.clock().astimezone(UTC))
    return visit.go(_address(sheet))


def file_page(visit: Visit) -> Response:
    """The device's sessions of that day, and sheet and file side by side when one is chosen."""
    sheet = _asked(visit)
    if sheet is None:
        return visit.refused(404, "desk.sheets.unknown")
    asked = visit.request.query_params
    day = _day_looked_for(visit, sheet, asked.get("on", ""))
    found, fault = None, ""
    with open_warehouse(visit.desk.workspace.warehouse, read_only=True) as con:
        sessions = near_sessions(con, sheet.trial, day).to_dicts()
        chosen = next((row for row in sessions if row["session_id"] == asked.get("session", "")), None)
        if chosen is not None:
            try:
                found = _joined(
                    sheet, shots_of_session(con, chosen["session_id"]), asked.get("missed", ""), asked.get("left", "")
                )
            except UsageError as wrong:
                fault = str(wrong)
    zone = ZoneInfo(visit.desk.academy.time_zone)
    return visit.page(
        "sheet_file",
        visit.words("desk.sheets.join"),
        sheet=sheet,
        at=_address(sheet),
        day=day,
        sessions=[{**row, "began": row["started_at"].replace(tzinfo=UTC).astimezone(zone)} for row in sessions],
        chosen=chosen,
        missed=asked.get("missed", ""),
        left=asked.get("left", ""),
        fault=fault,
        found=found,
        rows=_side_by_side(found, zone) if found is not None else [],
        n_both=found.paired.pairs.filter(pl.col("differs") == "").height if found is not None else 0,
    )


def _day_looked_for(visit: Visit, sheet: Sheet, asked: str) -> date:
    """The day that is asked for, or on which the sheet was noted, or today."""
    day = day_in(asked)
    if day is not None:
        return day
    noted = sheet.log.noted()
    zone = ZoneInfo(visit.desk.academy.time_zone)
    return noted[0].at.astimezone(zone).date() if noted else visit.desk.today()


def _joined(sheet: Sheet, shots: pl.DataFrame, missed: str, left: str) -> LabelledSession:
    lines = as_carried_out(sheet.lines, sheet.log.noted())
    return labelled(shots, lines, sheet.trial.trial_id, numbers_in(missed), numbers_in(left))


def _side_by_side(found: LabelledSession, zone: ZoneInfo) -> list[dict[str, Any]]:
    """A row for each line of the sheet and each shot, in the order of both."""
    lines = found.sheet.rename({"counts": "line_counts", "arm": "line_arm", "felt": "line_felt"})
    shots = found.shots.select("shot_no", "struck_at", "club", "club_speed_mps", "ball_speed_mps")
    rows = found.paired.pairs.join(lines, on="sheet_no", how="left", maintain_order="left")
    rows = rows.join(shots, on="shot_no", how="left", maintain_order="left")

    def local(at: datetime | None) -> str:
        return at.replace(tzinfo=UTC).astimezone(zone).strftime("%H:%M:%S") if at else ""

    return [{**row, "at": local(row["at"]), "struck": local(row["struck_at"])} for row in rows.iter_rows(named=True)]


def label(visit: Visit) -> Response:
    """Hand the labelled shots in."""
    sheet, session_id = _asked(visit), visit.field("session")
    if sheet is None:
        return visit.refused(404, "desk.sheets.unknown")
    day = _day_looked_for(visit, sheet, visit.field("on"))
    with open_warehouse(visit.desk.workspace.warehouse, read_only=True) as con:
        near = near_sessions(con, sheet.trial, day)
        if session_id not in near["session_id"].to_list():
            return visit.refused(404, "desk.sheets.no_session")
        try:
            found = _joined(sheet, shots_of_session(con, session_id), visit.field("missed"), visit.field("left"))
        except UsageError as wrong:
            return visit.page("message", visit.words("desk.no"), 422, said=str(wrong))
    return visit.hand_in(
        Paper("shots", correction_rows(found), f"{sheet.trial.trial_id} {sheet.day_no}"), "/sheets?done=labelled"
    )
