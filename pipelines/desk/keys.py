"""Keys, personal links, sessions, attempts, and the record of what was handed in: one small SQLite file in the workspace.

No secret is stored: of a passphrase its Argon2id hash, of a link and a session their SHA-256. Personal links are made from the
desk's secret, the player and a number; a link is renewed by counting the number up.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import secrets
import sqlite3
import threading
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError

from pipelines.stages.desk_view import KEYS
from schemas.errors import NotFoundError, UsageError, WorkspaceError
from schemas.natural_order import natural_key

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

Role = Literal["coach", "physio", "data", "player", "guardian"]
STAFF: tuple[Role, ...] = ("coach", "physio", "data")
LINKED: tuple[Role, ...] = ("player", "guardian")

STAFF_HOURS, LINK_HOURS = 8, 12
SHORTEST, LONGEST_NAME = 12, 60
"""Fewest characters of a passphrase, and most of a name."""

ATTEMPTS_NAME, ATTEMPTS_ADDRESS = 5, 20
"""Wrong passphrases for one name from one address, and whatever was wrong from one address, within a quarter of an hour."""
ATTEMPTS_WITHIN = timedelta(minutes=15)

_TABLES = """
create table if not exists staff_key (
  name text primary key, role text not null, hash text not null, made_at text not null, groups text);
create table if not exists personal_link (
  digest text primary key, player_id text not null, role text not null, serial integer not null, made_at text not null,
  unique (player_id, role));
create table if not exists session (
  digest text primary key, role text not null, subject text not null, ends_at text not null, groups text);
create table if not exists attempt (what text not null, at text not null);
create table if not exists hand_in (
  form_id text not null, subject text not null, role text not null, kind text not null, about text not null,
  file text not null, sha256 text not null, at text not null, primary key (subject, form_id));
create index if not exists hand_in_lately on hand_in (subject, at);
create index if not exists attempt_lately on attempt (what, at);
"""


_ADDED = (("staff_key", "groups"), ("session", "groups"))
"""Columns that a file of an earlier version lacks."""


class TooManyAttemptsError(Exception):
    """Wait: too many wrong passphrases or links came from there."""


@dataclass(frozen=True)
class Session:
    """Somebody who has come in.

    Attributes
    ----------
    token : str
        The secret that the cookie carries.
    role : Role
    subject : str
        Name of a key, or player id.
    groups : tuple of str or None
        The groups whose members alone this person sees; None: everybody.
    """

    token: str
    role: Role
    subject: str
    groups: tuple[str, ...] | None = None


@dataclass(frozen=True)
class StaffKey:
    """Somebody's key: name, role, and the groups that it is limited to (None: not limited)."""

    name: str
    role: Role
    groups: tuple[str, ...] | None


@dataclass(frozen=True)
class HandIn:
    """What was handed in: by whom, what about, and the file that it became."""

    kind: str
    about: str
    file: str
    at: datetime


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _text(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _stored(groups: tuple[str, ...] | None) -> str | None:
    return None if groups is None else json.dumps(sorted(set(groups)))


def _groups_in(stored: str | None) -> tuple[str, ...] | None:
    return None if stored is None else tuple(json.loads(stored))


def desk_secret(folder: Path) -> bytes:
    """The desk's secret; made at its first use, and never told."""
    folder.mkdir(mode=0o700, exist_ok=True)
    path = folder / "secret"
    if not path.exists():
        part = folder / f".secret.{secrets.token_hex(4)}.part"
        part.touch(mode=0o600)
        part.write_bytes(secrets.token_bytes(32))
        part.replace(path)
    return path.read_bytes()


class Keys:
    """Who may come in, and who has.

    Parameters
    ----------
    folder : Path
        The desk's own folder in the workspace.
    hasher : argon2.PasswordHasher, optional
        Default: the parameters that RFC 9106 recommends for machines with little memory.
    """

    def __init__(self, folder: Path, hasher: PasswordHasher | None = None) -> None:
        self.secret = desk_secret(folder)
        self._path = folder / KEYS
        self._hasher = hasher or PasswordHasher()
        self._one_at_a_time = threading.Semaphore(2)  # each check takes 64 MiB
        self._nobody = self._hasher.hash(secrets.token_urlsafe())
        with self._open() as con:
            con.executescript(_TABLES)
            for table, column in _ADDED:
                known = {row[1] for row in con.execute(f"pragma table_info({table})")}
                if column not in known:
                    con.execute(f"alter table {table} add column {column} text")

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            with closing(sqlite3.connect(self._path, timeout=10, isolation_level=None)) as con:
                con.execute("pragma journal_mode = wal")
                con.execute("pragma synchronous = normal")
                yield con
        except sqlite3.OperationalError as fault:
            raise WorkspaceError(f"{self._path} cannot be read or written: {fault}.", "Check the disk and the folder.") from fault

    # keys of coach, physio and data person

    def add_key(self, name: str, role: Role, passphrase: str, now: datetime, groups: tuple[str, ...] | None = None) -> None:
        """Make or replace a key; whoever is in with the old one is out.

        Raises
        ------
        UsageError
            When the role is none for a key, the name cannot be typed in the desk's form, the passphrase is short, or another key
            than a coach's is to be limited.
        """
        if name != name.strip() or not 1 <= len(name) <= LONGEST_NAME or not name.isprintable():
            raise UsageError(f"{name!r} cannot be the name of a key.", f"Use 1 to {LONGEST_NAME} letters, digits and signs.")
        if groups is not None and (role != "coach" or not groups):
            raise UsageError("Only a coach's key can be limited to groups.", "Use --group NAME with --role coach.")
        if role not in STAFF:
            raise UsageError(f"{role} is no role of a key.", f"Use one of: {', '.join(STAFF)}; players have personal links.")
        if len(passphrase) < SHORTEST:
            raise UsageError("The passphrase is too short.", f"Use at least {SHORTEST} characters.")
        row = (name, role, self._hasher.hash(passphrase), _text(now), _stored(groups))
        with self._open() as con:
            con.execute("insert or replace into staff_key (name, role, hash, made_at, groups) values (?, ?, ?, ?, ?)", row)
        self.end_sessions(name, STAFF)

    def remove_key(self, name: str) -> None:
        """Take a key away; whoever is in with it is out.

        Raises
        ------
        NotFoundError
        """
        with self._open() as con:
            n = con.execute("delete from staff_key where name = ?", (name,)).rowcount
        if not n:
            raise NotFoundError(f"There is no key {name}.", "`speedworth key list` lists them.")
        self.end_sessions(name, STAFF)

    def keys(self) -> list[StaffKey]:
        """Every key, by role and name."""
        with self._open() as con:
            rows = con.execute("select name, role, groups from staff_key").fetchall()
        found = [StaffKey(name, role, _groups_in(groups)) for name, role, groups in rows]
        return sorted(found, key=lambda key: (key.role, natural_key(key.name)))

    def enter_by_passphrase(self, name: str, passphrase: str, address: str, now: datetime) -> Session | None:
        """A session for whoever knows the passphrase; None for others.

        Raises
        ------
        TooManyAttemptsError
        """
        pair = f"name:{name[:60]}|{address}"
        self._refuse_many(now, (pair, ATTEMPTS_NAME), (f"from:{address}", ATTEMPTS_ADDRESS))
        with self._open() as con:
            row = con.execute("select role, hash, groups from staff_key where name = ?", (name,)).fetchone()
        if not self._fits(row[1] if row else self._nobody, passphrase) or row is None:
            self._note_attempt(now, pair, f"from:{address}")
            return None
        return self._begin(row[0], name, now, _groups_in(row[2]))

    def _fits(self, known: str, passphrase: str) -> bool:
        with self._one_at_a_time:
            try:
                return self._hasher.verify(known, passphrase)
            except (Argon2Error, InvalidHashError):
                return False

    # personal links of players and guardians

    def personal_link(self, player_id: str, role: Role, now: datetime) -> str:
        """The secret part of a player's or guardian's link; the same until it is renewed."""
        with self._open() as con:
            row = con.execute("select serial from personal_link where player_id = ? and role = ?", (player_id, role)).fetchone()
        return self._link(player_id, role, row[0]) if row else self.renew_link(player_id, role, now)

    def renew_link(self, player_id: str, role: Role, now: datetime) -> str:
        """A new link; the old one, and whoever is in by it, is out."""
        with self._open() as con:
            con.execute("begin immediate")
            row = con.execute("select serial from personal_link where player_id = ? and role = ?", (player_id, role)).fetchone()
            serial = secrets.randbits(40) if row is None else row[0] + 1
            token = self._link(player_id, role, serial)
            con.execute(
                "insert or replace into personal_link values (?, ?, ?, ?, ?)",
                (_digest(token), player_id, role, serial, _text(now)),
            )
            con.execute("commit")
        self.end_sessions(player_id, (role,))
        return token

    def _link(self, player_id: str, role: Role, serial: int) -> str:
        made = hmac.new(self.secret, f"link|{player_id}|{role}|{serial}".encode(), hashlib.sha256).digest()
        return base64.b32encode(made).decode().lower()[:26]

    def enter_by_link(self, token: str, address: str, now: datetime) -> Session | None:
        """A session for whoever has the link; None for others.

        Raises
        ------
        TooManyAttemptsError
        """
        self._refuse_many(now, (f"from:{address}", ATTEMPTS_ADDRESS))
        with self._open() as con:
            row = con.execute("select player_id, role from personal_link where digest = ?", (_digest(token),)).fetchone()
        if row is None:
            self._note_attempt(now, f"from:{address}")
            return None
        return self._begin(row[1], row[0], now)

    # attempts

    def _refuse_many(self, now: datetime, *limits: tuple[str, int]) -> None:
        since = _text(now - ATTEMPTS_WITHIN)
        with self._open() as con:
            for what, most in limits:
                (n,) = con.execute("select count(*) from attempt where what = ? and at > ?", (what, since)).fetchone()
                if n >= most:
                    raise TooManyAttemptsError(what)

    def _note_attempt(self, now: datetime, *whats: str) -> None:
        with self._open() as con:
            con.execute("delete from attempt where at < ?", (_text(now - ATTEMPTS_WITHIN),))
            con.executemany("insert into attempt values (?, ?)", [(what, _text(now)) for what in whats])

    # sessions

    def _begin(self, role: Role, subject: str, now: datetime, groups: tuple[str, ...] | None = None) -> Session:
        token = secrets.token_urlsafe(32)
        ends = now + timedelta(hours=STAFF_HOURS if role in STAFF else LINK_HOURS)
        with self._open() as con:
            con.execute("delete from session where ends_at < ?", (_text(now),))
            row = (_digest(token), role, subject, _text(ends), _stored(groups))
            con.execute("insert into session (digest, role, subject, ends_at, groups) values (?, ?, ?, ?, ?)", row)
        return Session(token, role, subject, groups)

    def session(self, token: str, now: datetime) -> Session | None:
        """The session of that secret, while it lasts."""
        with self._open() as con:
            row = con.execute(
                "select role, subject, groups from session where digest = ? and ends_at > ?", (_digest(token), _text(now))
            ).fetchone()
        return Session(token, row[0], row[1], _groups_in(row[2])) if row else None

    def end(self, token: str) -> None:
        """End one session."""
        with self._open() as con:
            con.execute("delete from session where digest = ?", (_digest(token),))

    def end_sessions(self, subject: str, roles: tuple[Role, ...]) -> None:
        """End every session of a key or link."""
        with self._open() as con:
            con.executemany("delete from session where subject = ? and role = ?", [(subject, role) for role in roles])

    # what was handed in

    def handed_in(self, subject: str, form_id: str) -> tuple[HandIn, str] | None:
        """What this form became when it was handed in before, and the checksum of its content."""
        with self._open() as con:
            row = con.execute(
                "select kind, about, file, at, sha256 from hand_in where subject = ? and form_id = ?", (subject, form_id)
            ).fetchone()
        return (HandIn(row[0], row[1], row[2], datetime.fromisoformat(row[3])), row[4]) if row else None

    def record(self, session: Session, form_id: str, what: HandIn, sha256: str) -> None:
        """Note what was handed in, by which role, and when."""
        row = (form_id, session.subject, session.role, what.kind, what.about, what.file, sha256, _text(what.at))
        with self._open() as con:
            con.execute("insert or ignore into hand_in values (?, ?, ?, ?, ?, ?, ?, ?)", row)

    def lately(self, subject: str, since: datetime) -> list[HandIn]:
        """What somebody has handed in, the newest first."""
        with self._open() as con:
            rows = con.execute(
                "select kind, about, file, at from hand_in where subject = ? and at > ? order by at desc", (subject, _text(since))
            ).fetchall()
        return [HandIn(kind, about, file, datetime.fromisoformat(at)) for kind, about, file, at in rows]
