"""Coming in and going out: passphrase, personal link, language."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.desk.keys import ATTEMPTS_WITHIN, LINK_HOURS, STAFF, STAFF_HOURS, TooManyAttemptsError
from pipelines.desk.visit import LANGUAGE_COOKIE, SESSION_COOKIE
from schemas.academy import LANGUAGES

if TYPE_CHECKING:
    from starlette.responses import Response

    from pipelines.desk.keys import Session
    from pipelines.desk.visit import Visit


def enter_page(visit: Visit) -> Response:
    """The form for a name and a passphrase; whoever is in sees whose visit it is, and leaves there first."""
    if visit.session is not None:
        return visit.go("/")
    return visit.page("enter", visit.words("desk.enter.title"), wrong=False)


def enter(visit: Visit) -> Response:
    """Come in by name and passphrase."""
    desk = visit.desk
    try:
        session = desk.keys.enter_by_passphrase(visit.field("name"), visit.field("passphrase"), visit.address, desk.clock())
    except TooManyAttemptsError:
        return _wait(visit)
    if session is None:
        return visit.page("enter", visit.words("desk.enter.title"), 401, wrong=True)
    return _let_in(visit, session)


def enter_by_link(visit: Visit) -> Response:
    """Come in by a personal link."""
    desk = visit.desk
    try:
        session = desk.keys.enter_by_link(visit.request.path_params["token"], visit.address, desk.clock())
    except TooManyAttemptsError:
        return _wait(visit)
    return visit.refused(404, "desk.link_unknown") if session is None else _let_in(visit, session)


def _wait(visit: Visit) -> Response:
    minutes = visit.words.number(ATTEMPTS_WITHIN.total_seconds() / 60, 0)
    return visit.refused(429, "desk.too_many", minutes=minutes)


def _let_in(visit: Visit, session: Session) -> Response:
    desk = visit.desk
    old = visit.request.cookies.get(SESSION_COOKIE)
    if old:
        desk.keys.end(desk.unsigned(old))
    hours = STAFF_HOURS if session.role in STAFF else LINK_HOURS
    answer = visit.go("/")
    answer.set_cookie(
        SESSION_COOKIE, desk.signed(session.token), max_age=hours * 3600, httponly=True, secure=desk.secure, samesite="lax"
    )
    return answer


def leave(visit: Visit) -> Response:
    """End the session, and forget the pages that the browser kept; answers that wait to be sent stay."""
    visit.desk.keys.end(visit.me.token)
    answer = visit.go("/enter")
    answer.delete_cookie(SESSION_COOKIE, httponly=True, secure=visit.desk.secure, samesite="lax")
    answer.headers["clear-site-data"] = '"cache"'
    return answer


def choose_language(visit: Visit) -> Response:
    """Speak that language from now on."""
    chosen = visit.request.path_params["language"]
    if chosen not in LANGUAGES:
        return visit.refused(404, "desk.nothing_here")
    answer = visit.go("/")
    answer.set_cookie(LANGUAGE_COOKIE, chosen, max_age=365 * 86400, httponly=True, secure=visit.desk.secure, samesite="lax")
    return answer
