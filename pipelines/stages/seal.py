"""Who can read a backup, and how it is seen that nobody changed it.

Backups are encrypted in the age format (age-encryption.org/v1) to the public keys in ``recipients.txt``, or to a passphrase. The
list of what a backup holds is signed with a secret of the workspace (HMAC-SHA-256), which says that this workspace made it.
"""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pyrage

from schemas.errors import NotFoundError, UsageError, WorkspaceError

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace

_TRIES = 6
_TOO_BUSY = "excessive work parameter"
"""What the age format's library says when working out a passphrase would take too long by what it has just tried (measured at
each call, so that a busy machine may refuse what an idle one opens)."""
_MAGIC = b"age-encryption.org/v1"
_WAYS = "Use --new-key FILE, --to KEY or --passphrase; or --plain for a backup that anybody can read who gets hold of it."


@dataclass(frozen=True)
class Readers:
    """Who can read a backup.

    Attributes
    ----------
    keys : tuple of str
        Public keys (age1...).
    passphrase : str
        Instead of keys; empty: none.
    """

    keys: tuple[str, ...] = ()
    passphrase: str = ""

    @property
    def anybody(self) -> bool:
        """Whether it is not encrypted."""
        return not self.keys and not self.passphrase


@dataclass(frozen=True)
class Opener:
    """With what an encrypted backup is opened.

    Attributes
    ----------
    key_file : Path or None
        A file with a private key (AGE-SECRET-KEY-1...).
    passphrase : str
    """

    key_file: Path | None = None
    passphrase: str = ""


def recipients_file(workspace: Workspace) -> Path:
    """Public keys that backups are encrypted to, one a line; ``#`` begins a remark."""
    return workspace.root / "recipients.txt"


def known_keys(workspace: Workspace) -> tuple[str, ...]:
    """The public keys of the workspace; none when there is no file of them.

    Raises
    ------
    UsageError
        When a line is no public key.
    """
    path = recipients_file(workspace)
    if not path.is_file():
        return ()
    lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines()]
    return tuple(checked_key(line) for line in lines if line and not line.startswith("#"))


def checked_key(text: str) -> str:
    """The public key, when it is one.

    Raises
    ------
    UsageError
    """
    try:
        pyrage.x25519.Recipient.from_str(text)
    except pyrage.RecipientError as fault:
        raise UsageError(f"{text[:24]!r} is no public key.", "One begins with age1 and has 62 signs.") from fault
    return text


def require_readers(workspace: Workspace) -> Readers:
    """The keys of the workspace.

    Raises
    ------
    UsageError
        When it has none.
    """
    keys = known_keys(workspace)
    if not keys:
        raise UsageError("Nobody is named who could read an encrypted backup.", _WAYS)
    return Readers(keys)


def make_key(workspace: Workspace, file: Path) -> str:
    """Make a pair of keys: the private one goes to ``file``, the public one to the workspace. Returns the public one.

    Raises
    ------
    UsageError
        When the file exists already, or lies in the workspace, with which it would be lost.
    """
    if file.resolve().is_relative_to(workspace.root.resolve()):
        raise UsageError(f"{file} lies in the workspace, and would be lost with it.", "Choose a place on another disk.")
    identity = pyrage.x25519.Identity.generate()
    public = str(identity.to_public())
    try:
        with file.open("x", encoding="utf-8") as out:
            file.chmod(0o600)
            out.write(f"# public key: {public}\n{identity}\n")
    except FileExistsError as fault:
        raise UsageError(f"{file} exists already.", "Choose another name: a key that is overwritten is lost.") from fault
    except OSError as fault:
        raise UsageError(f"{file} cannot be written: {fault.strerror}.", "Choose another place.") from fault
    with recipients_file(workspace).open("a", encoding="utf-8") as known:
        known.write(f"{public}\n")
    return public


def encrypt(plain: Path, target: Path, readers: Readers) -> pyrage.x25519.Identity | None:
    """Encrypt a file; returns a key that is kept nowhere, with which it can be read again now, to see that it can be."""
    if readers.passphrase:
        target.write_bytes(pyrage.passphrase.encrypt(plain.read_bytes(), readers.passphrase))
        return None
    passing = pyrage.x25519.Identity.generate()
    to = [pyrage.x25519.Recipient.from_str(key) for key in readers.keys]
    pyrage.encrypt_file(str(plain), str(target), [*to, passing.to_public()])
    return passing


def is_encrypted(copy: Path) -> bool:
    """Whether the file is in the age format."""
    with copy.open("rb") as file:
        return file.read(len(_MAGIC)) == _MAGIC


def decrypt(copy: Path, plain: Path, opener: Opener) -> None:
    """Decrypt a file.

    Raises
    ------
    UsageError
        When nothing was given to open it with.
    WorkspaceError
        When it does not open it, or the machine is too busy to try.
    NotFoundError
        When there is no such key file.
    """
    with copy.open("rb") as file:
        by_passphrase = b"\n-> scrypt " in file.read(512)
    if not by_passphrase:
        _require(opener.key_file, copy, "keys: add --key FILE with the private key")
        decrypt_with(copy, plain, identities(opener.key_file))
        return
    _require(opener.passphrase, copy, "a passphrase: add --passphrase")
    for left in reversed(range(_TRIES)):
        try:
            plain.write_bytes(pyrage.passphrase.decrypt(copy.read_bytes(), opener.passphrase))
        except pyrage.DecryptError as fault:
            if _TOO_BUSY not in str(fault).lower():
                raise _closed(copy, fault) from fault
            if not left:
                told = "Nothing is wrong with the copy: try again when the machine has less to do, or on a faster one."
                raise WorkspaceError(f"{copy} takes too long to decrypt on this machine as busy as it is.", told) from fault
        else:
            return


def decrypt_with(copy: Path, plain: Path, keys: list[pyrage.x25519.Identity]) -> None:
    """Decrypt a file with one of these keys.

    Raises
    ------
    WorkspaceError
        When none fits, or the file was changed.
    """
    try:
        pyrage.decrypt_file(str(copy), str(plain), keys)
    except pyrage.DecryptError as fault:
        raise _closed(copy, fault) from fault
    except OSError as fault:
        if fault.errno is not None:  # the disk's; what is told of the content has no number
            raise
        raise WorkspaceError(f"{copy} is cut short or damaged.", "Choose another backup.") from fault


def _closed(copy: Path, fault: Exception) -> WorkspaceError:
    return WorkspaceError(f"{copy} cannot be decrypted: {fault}.", "Check the key, or choose another backup.")


def _require(given: object, copy: Path, what: str) -> None:
    if not given:
        raise UsageError(f"{copy} is encrypted to {what}.")


def identities(file: Path | None) -> list[pyrage.x25519.Identity]:
    """The private keys of a file.

    Raises
    ------
    NotFoundError, UsageError
    """
    if file is None or not file.is_file():
        raise NotFoundError(f"There is no key file {file}.", "It was named by `speedworth backup --new-key FILE`.")
    lines = [line.strip() for line in file.read_text(encoding="utf-8", errors="replace").splitlines()]
    try:
        found = [pyrage.x25519.Identity.from_str(line) for line in lines if line and not line.startswith("#")]
    except pyrage.IdentityError as fault:
        raise UsageError(f"{file} holds no private key.", "A private key begins with AGE-SECRET-KEY-1.") from fault
    if not found:
        raise UsageError(f"{file} holds no private key.", "A private key begins with AGE-SECRET-KEY-1.")
    return found


def signature(manifest: bytes, key: bytes) -> str:
    """What only a holder of the workspace's secret can put beside a list of files."""
    return hmac.new(hashlib.sha256(b"speedworth backup" + key).digest(), manifest, hashlib.sha256).hexdigest()


def is_signed(manifest: bytes, key: bytes, told: str) -> bool:
    """Whether the holder of that secret signed the list."""
    return hmac.compare_digest(signature(manifest, key), told)
