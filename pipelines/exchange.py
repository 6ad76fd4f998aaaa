"""Putting what was brought back in place of what a workspace holds, so that an end in between is finished by the next start."""

from __future__ import annotations

import json
import os
import shutil
from contextlib import suppress
from pathlib import Path

KEPT = ("academy.toml", "academy.duckdb", ".site-key", ".id-key", ".backup-key", "recipients.txt", "audit.log", ".shared.json",
        "mappings", "archive", "quarantine", ".desk/sheets", ".desk/dropped", ".desk/undone")  # fmt: skip
"""What a backup holds, below the workspace. Pages are rendered anew; the inbox is left as it is.

Of the desk, what was noted beside shots and what was dropped there come along. Its keys, links and sessions do not: a key that
was removed since must not open the desk again. On another machine they are made anew.
"""

BROUGHT = ".restored"
_MARKER = ".restore-due"
_LOG = "academy.duckdb.wal"


def begin_exchange(root: Path, brought: Path, aside: Path) -> None:
    """Exchange the contents of ``root`` for those of the folder ``brought`` in it; what was there goes to ``aside``."""
    target = root / BROUGHT
    shutil.rmtree(target, ignore_errors=True)
    brought.rename(target)
    told = {"aside": str(aside.relative_to(root)), "names": [name for name in KEPT if (target / name).exists()]}
    part = root / f"{_MARKER}.part"
    part.write_text(json.dumps(told), encoding="utf-8")
    part.replace(root / _MARKER)  # from here on it will be finished, by whoever comes next
    finish_exchange(root)


def finish_exchange(root: Path) -> bool:
    """Go on with an exchange that was begun; False when there is none. Every step may be done again."""
    marker = root / _MARKER
    if not marker.exists():
        return False
    told = json.loads(marker.read_text(encoding="utf-8"))
    aside, names = root / told["aside"], set(told["names"])
    aside.mkdir(parents=True, exist_ok=True)
    for name in (_LOG, *KEPT):  # the log first: beside another warehouse it would be read into that
        _exchange_one(root / name, root / BROUGHT / name, aside / name, is_in_copy=name in names)
    for name in ("mappings", "archive", "quarantine"):
        (root / name).mkdir(exist_ok=True)
    marker.unlink()
    shutil.rmtree(root / BROUGHT, ignore_errors=True)
    return True


def _exchange_one(old: Path, new: Path, aside: Path, *, is_in_copy: bool) -> None:
    if not (new if is_in_copy else old).exists():
        return  # done before, or nothing to do
    for place in (old, aside):
        place.parent.mkdir(parents=True, exist_ok=True)
    if old.is_dir():
        if aside.exists():
            old.rmdir()  # made empty by the start that finishes
        else:
            shutil.move(old, aside)
    elif old.exists() and not aside.exists():
        keep_beside(old, aside)
    if is_in_copy:
        new.replace(old)
    elif old.exists():
        old.unlink()


def keep_beside(old: Path, aside: Path) -> None:
    """Let a file be found under a second name too, whole or not at all; it stays where it is until something replaces it."""
    part = aside.with_name(f".{aside.name}.part")
    part.unlink(missing_ok=True)
    try:
        os.link(old, part)
    except OSError:  # a file system without links, or another one
        shutil.copy2(old, part)
    part.replace(aside)
    with suppress(OSError):
        aside.chmod(0o600)


def clear_unfinished(root: Path) -> None:
    """Remove what an end in between left half-written; nothing of it is needed. The workspace is held for writing."""
    for pattern in (".restore-*", ".rebuild", "backups/.part-*", "academy.fresh*", "academy.duckdb.tmp", ".*.part", "*/.probe-*"):
        for path in root.glob(pattern):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            elif path.name != _MARKER:
                path.unlink(missing_ok=True)
