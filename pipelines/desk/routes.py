"""Every address of the desk, how it is asked for, and who may ask: the one table that decides it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipelines.desk import (
    absences,
    decide,
    drop,
    entrance,
    mappings,
    people,
    plans,
    player_forms,
    player_start,
    rooms,
    shot_sheets,
    start,
    trial_ends,
)
from pipelines.desk.keys import LINKED, STAFF, Role

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.responses import Response

    from pipelines.desk.visit import Visit

ANYBODY: tuple[Role, ...] = ()
EVERY_ROLE: tuple[Role, ...] = (*STAFF, *LINKED)
PLAYER: tuple[Role, ...] = LINKED


@dataclass(frozen=True)
class Entry:
    """One address.

    Attributes
    ----------
    method, path : str
    roles : tuple of Role
        Who may ask; empty: anybody, also those who have not come in.
    answer : callable
        Makes the answer to a visit.
    n_files, n_fields : int
        Most files and fields that a form may carry.
    """

    method: str
    path: str
    roles: tuple[Role, ...]
    answer: Callable[[Visit], Response]
    n_files: int = 0
    n_fields: int = 200


ENTRIES: tuple[Entry, ...] = (
    Entry("GET", "/enter", ANYBODY, entrance.enter_page),
    Entry("POST", "/enter", ANYBODY, entrance.enter),
    Entry("GET", "/p/{token}", ANYBODY, entrance.enter_by_link),
    Entry("GET", "/language/{language}", ANYBODY, entrance.choose_language),
    Entry("GET", "/assets/{name}", ANYBODY, rooms.asset),
    Entry("GET", "/worker.js", ANYBODY, rooms.worker),
    Entry("POST", "/leave", EVERY_ROLE, entrance.leave),
    Entry("GET", "/", EVERY_ROLE, start.start),
    Entry("GET", "/room/{path:path}", EVERY_ROLE, rooms.room),
    Entry("GET", "/checkin", PLAYER, player_forms.checkin_page),
    Entry("POST", "/checkin", PLAYER, player_forms.checkin),
    Entry("GET", "/effort", PLAYER, player_forms.effort_page),
    Entry("POST", "/effort", PLAYER, player_forms.effort),
    Entry("GET", "/problems", PLAYER, player_forms.problems_page),
    Entry("POST", "/problems", PLAYER, player_forms.problems),
    Entry("GET", "/score", PLAYER, player_forms.score_page),
    Entry("POST", "/score", PLAYER, player_forms.score),
    Entry("POST", "/rest", PLAYER, player_start.rest),
    Entry("GET", "/consent", PLAYER, player_start.consent_page),
    Entry("POST", "/consent", PLAYER, player_start.consent),
    Entry("GET", "/findings", ("coach", "physio"), decide.findings),
    Entry("POST", "/findings", ("coach", "physio"), decide.decide),
    Entry("GET", "/absences", ("physio",), absences.absences),
    Entry("POST", "/absences", ("physio",), absences.end),
    Entry("GET", "/plans", ("coach",), plans.plans),
    Entry("POST", "/plans", ("coach",), plans.plan),
    Entry("GET", "/sheets", ("coach",), shot_sheets.sheets),
    Entry("POST", "/sheets", ("coach",), shot_sheets.plan),
    Entry("POST", "/sheets/{trial_id}/end", ("coach",), trial_ends.end),
    Entry("POST", "/sheets/{trial_id}/resume", ("coach",), trial_ends.resume),
    Entry("GET", "/sheets/{trial_id}/print", ("coach",), shot_sheets.printed),
    Entry("GET", "/sheets/{trial_id}/{day}", ("coach",), shot_sheets.sheet_page),
    Entry("POST", "/sheets/{trial_id}/{day}", ("coach",), shot_sheets.note),
    Entry("GET", "/sheets/{trial_id}/{day}/file", ("coach",), shot_sheets.file_page),
    Entry("POST", "/sheets/{trial_id}/{day}/label", ("coach",), shot_sheets.label),
    Entry("GET", "/drop", ("data",), drop.drop_page),
    Entry("POST", "/drop", ("data",), drop.drop, n_files=50),
    Entry("POST", "/drop/accept", ("data",), drop.accept),
    Entry("POST", "/drop/undo", ("data",), drop.undo),
    Entry("POST", "/drop/withdraw", ("data",), drop.withdraw),
    Entry("GET", "/mapping/{file_id}", ("data",), mappings.mapping_page),
    Entry("POST", "/mapping/{file_id}", ("data",), mappings.correct, n_fields=4000),
    Entry("GET", "/dropped/{drop_id}/{key}", ("data",), mappings.mapping_page),
    Entry("POST", "/dropped/{drop_id}/{key}", ("data",), mappings.correct, n_fields=4000),
    Entry("GET", "/links", ("data",), people.links),
    Entry("GET", "/links/{player_id}/{role}", ("data",), people.link),
    Entry("POST", "/links/{player_id}/{role}", ("data",), people.renew),
)
