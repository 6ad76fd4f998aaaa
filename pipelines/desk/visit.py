"""One request of one person: who they are, their language, and what a page is made with."""

from __future__ import annotations

import hashlib
import hmac
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from itsdangerous import BadSignature, Signer
from markupsafe import Markup
from starlette.responses import HTMLResponse, RedirectResponse, Response

from pipelines.desk.handing import FORM_ID, Paper, RefusedError, Tray, new_form_id
from pipelines.desk.view import View, ViewFile, utc_now
from pipelines.stages.intake import Readings
from reports.findings.problems import TOLD, problem_text
from reports.numbers import Numbers
from reports.pages.frame import template
from reports.words import Words, words
from schemas.academy import LANGUAGES
from schemas.errors import NotFoundError, WarehouseBusyError
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from datetime import datetime

    import duckdb
    from starlette.datastructures import FormData
    from starlette.requests import Request

    from pipelines.desk.keys import HandIn, Keys, Session
    from pipelines.workspace import Workspace
    from schemas.academy import Academy

LANGUAGE_COOKIE, SESSION_COOKIE = "language", "desk"
_ASKED = {"checkins": "desk.ask", "rounds": "desk.score", "plans": "desk.plans"}
"""Where the words stand by which a form asks for the columns of a kind."""


def day_in(text: str) -> date | None:
    """The day in a form or an address; None when it is none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


@dataclass(frozen=True)
class Desk:
    """The service as its pages see it.

    Attributes
    ----------
    workspace : Workspace
    academy : Academy
    keys : Keys
    clock : callable
    styles, script : str
        Names of the desk's own files, which change with their content.
    secure : bool
        Cookies go over TLS only.
    """

    workspace: Workspace
    academy: Academy
    keys: Keys
    view_file: ViewFile
    assets: Mapping[str, str]
    names: Mapping[str, str]
    clock: Callable[[], datetime] = utc_now
    secure: bool = False

    @property
    def tray(self) -> Tray:
        """Where hand-ins go."""
        return Tray(self.workspace, self.keys, self.academy.time_zone)

    def today(self) -> date:
        """The academy's local day."""
        return self.clock().astimezone(ZoneInfo(self.academy.time_zone)).date()

    @contextmanager
    def readings(self, texts: Mapping[str, str]) -> Iterator[Readings]:
        """How files are read here, with mappings of these ``texts``; nothing is looked up while a night runs or before one."""
        with ExitStack() as stack:
            con: duckdb.DuckDBPyConnection | None = None
            with suppress(WarehouseBusyError, NotFoundError):
                con = stack.enter_context(open_warehouse(self.workspace.warehouse, read_only=True))
            yield Readings.of(self.workspace.mappings, self.academy, con, texts)

    def signed(self, token: str) -> str:
        """The session's secret as its cookie carries it."""
        return str(Signer(self.keys.secret, salt="desk.session", digest_method=hashlib.sha256).sign(token).decode())

    def unsigned(self, cookie: str) -> str:
        """The session's secret in a cookie that this desk signed; empty for any other."""
        try:
            return str(Signer(self.keys.secret, salt="desk.session", digest_method=hashlib.sha256).unsign(cookie).decode())
        except BadSignature:
            return ""

    def csrf(self, token: str) -> str:
        """What a form of this session must carry."""
        return hmac.new(self.keys.secret, f"form|{token}".encode(), hashlib.sha256).hexdigest()


@dataclass
class Visit:
    """One request.

    Attributes
    ----------
    desk : Desk
    request : Request
    session : Session or None
    form : FormData or None
        What was posted.
    """

    desk: Desk
    request: Request
    session: Session | None = None
    form: FormData | None = None
    _view: View | None = field(default=None, repr=False)

    @property
    def me(self) -> Session:
        """Whoever has come in; the table of entries lets nobody else this far."""
        if self.session is None:
            raise PermissionError("nobody has come in")
        return self.session

    @property
    def words(self) -> Words:
        """The texts in the visitor's language: as chosen, else the academy's."""
        chosen = self.request.cookies.get(LANGUAGE_COOKIE, "")
        return words(chosen if chosen in LANGUAGES else self.desk.academy.language)

    @property
    def numbers(self) -> Numbers:
        """Numbers in that language and the academy's units."""
        return Numbers(self.words, self.desk.academy.units)

    @property
    def view(self) -> View:
        """The rows that forms show, the same throughout one request: those of the groups that the visitor's key is limited to."""
        if self._view is None:
            whole = self.desk.view_file.read()
            groups = self.session.groups if self.session is not None else None
            self._view = whole if groups is None else whole.of_groups(groups)
        return self._view

    @property
    def address(self) -> str:
        """Where the request came from."""
        return self.request.client.host if self.request.client else ""

    def field(self, name: str) -> str:
        """A posted text without surrounding blanks; empty when it is missing or a file."""
        value = self.form.get(name) if self.form is not None else None
        return value.strip() if isinstance(value, str) else ""

    def page(self, name: str, title: str, status: int = 200, **values: Any) -> Response:
        """A page of the desk from its template."""
        session, language = self.session, self.words
        text = template(f"desk/{name}.html").render(
            words=language,
            numbers=self.numbers,
            language=language.language,
            languages=LANGUAGES,
            academy=self.desk.academy.name,
            title=title,
            files=self.desk.names,
            session=session,
            csrf=self.desk.csrf(session.token) if session else "",
            form_id=new_form_id(),
            who=self._who(),
            path=self.request.url.path,
            today=self.desk.today(),
            **{"wide": False, **values},
        )
        return HTMLResponse(text, status)

    def _who(self) -> str:
        """A name for this visitor in the browser's own store, so that nothing kept there is sent as somebody else's."""
        if self.session is None:
            return ""
        return hmac.new(
            self.desk.keys.secret, f"who|{self.session.role}|{self.session.subject}".encode(), hashlib.sha256
        ).hexdigest()[:16]

    def go(self, path: str) -> Response:
        """Onward to another page."""
        return RedirectResponse(path, 303)

    def refused(self, status: int, key: str, **values: object) -> Response:
        """A page that says no, and what to do."""
        return self.page("message", self.words("desk.no"), status, said=self.words(key, **values))

    def hand_in(self, paper: Paper, done: str) -> Response:
        """Hand rows in and go back to the start with a word of thanks, or say what is wrong."""
        form_id = self.field("form_id")
        if not FORM_ID.fullmatch(form_id):
            return self.refused(422, "desk.form_unknown")
        try:
            self.desk.tray.hand_in(self.me, form_id, paper, self.desk.clock())
        except RefusedError as refusal:
            told = [problem for problem in refusal.problems if problem["severity"] != "held"] or refusal.problems
            asked = _ASKED.get(paper.kind, "draft.column")
            said = Markup(" ").join([*(self._complaint(problem, asked) for problem in told), self.words("desk.go_back")])
            return self.page("message", self.words("desk.no"), 422, said=said)
        return self.go(done if done.startswith("/") else f"/?done={done}")

    def _complaint(self, problem: dict[str, Any], asked: str) -> Markup:
        """Which field, as files that people draft call it or else the form, what is allowed, what to do."""
        told = (problem_text(part, problem["rule"], problem[part], self.words).marked(self.words.language) for part in TOLD)
        column = problem["column"]
        field = self.words.either(f"draft.column.{column}", self.words.either(f"{asked}.{column}", column))
        return Markup("{}{}. {}").format(f"{field}{'' if field.endswith('?') else ':'} " if field else "", *told)

    def moment(self, at: datetime) -> str:
        """An instant as people here read it."""
        here = at.astimezone(ZoneInfo(self.desk.academy.time_zone))
        return f"{self.words.day(here.date())}, {here:%H:%M}"

    def lately(self, days: int = 2) -> list[HandIn]:
        """What this person has handed in since the last intake saw the inbox, and a little before."""
        return self.desk.keys.lately(self.me.subject, self.desk.clock() - timedelta(days=days))

    def has_handed_in(self, kind: str, about: str) -> bool:
        """Whether this person has handed that in; the next intake takes it from the inbox."""
        return any(item.kind == kind and item.about == about for item in self.lately(10))
