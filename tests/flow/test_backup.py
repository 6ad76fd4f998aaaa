"""Backups: encrypted, signed, read again after writing; a restore is whole or has not happened."""

from __future__ import annotations

import io
import json
import shutil
import tarfile
from collections import namedtuple
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pyrage
import pytest

from pipelines import exchange
from pipelines.cli.main import main
from pipelines.stages import unpack
from pipelines.stages.backup import back_up, sha256_of, sums_of
from pipelines.stages.restore import restore
from pipelines.stages.seal import Opener, Readers, decrypt, make_key, signature
from pipelines.workspace import Workspace, create_workspace, writing
from schemas.errors import (
    NotFoundError,
    SpeedworthError,
    UsageError,
    WarehouseBusyError,
    WarehouseNewerError,
    WorkspaceError,
)
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from collections.abc import Callable

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
LATER = datetime(2026, 3, 2, 12, tzinfo=UTC)
PHRASE = "correct horse"


@pytest.fixture
def workspace(tmp_path: Path, migrated: Path) -> Workspace:
    made = create_workspace(tmp_path / "lakeside")
    shutil.copy(migrated, made.warehouse)
    (made.archive / "a").write_text("original")
    with open_warehouse(made.warehouse) as con:
        con.execute("insert into academy values ('Lakeside', 'UTC')").fetchall()
    return made


def spoil(workspace: Workspace) -> None:
    (workspace.archive / "a").write_text("spoiled")
    with open_warehouse(workspace.warehouse) as con:
        con.execute("delete from academy").fetchall()


def assert_is_back(workspace: Workspace) -> None:
    assert (workspace.archive / "a").read_text() == "original"
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select name from academy") == "Lakeside"
    assert {path.name for path in workspace.root.glob(".*")} <= {".lock", ".backup-key", ".backup-sums", ".id-key", ".site-key"}


def test_a_backup_brings_everything_back_and_keeps_what_it_replaced(workspace: Workspace) -> None:
    backup = back_up(workspace, NOON)
    assert (backup.n_files, backup.is_encrypted) == (4, False)
    spoil(workspace)
    (workspace.inbox / "waiting.csv").write_text("x")
    aside = restore(workspace, backup.path, LATER)
    assert_is_back(workspace)
    assert (aside / "archive" / "a").read_text() == "spoiled"
    assert (workspace.inbox / "waiting.csv").exists()


def test_an_encrypted_backup_shows_nothing_and_opens_with_its_key_alone(workspace: Workspace, tmp_path: Path) -> None:
    key = tmp_path / "key.txt"
    public = make_key(workspace, key)
    assert key.stat().st_mode & 0o077 == 0
    backup = back_up(workspace, NOON)
    data = backup.path.read_bytes()
    assert backup.is_encrypted
    assert data.startswith(b"age-encryption.org/v1\n")
    assert b"original" not in data
    pyrage.decrypt(data, [pyrage.x25519.Identity.from_str(key.read_text().splitlines()[-1])])  # an age reader of its own
    spoil(workspace)
    with pytest.raises(UsageError, match="--key FILE"):
        restore(workspace, backup.path, LATER)
    other = tmp_path / "other.txt"
    other.write_text(f"{pyrage.x25519.Identity.generate()}\n")
    with pytest.raises(WorkspaceError, match="cannot be decrypted"):
        restore(workspace, backup.path, LATER, opener=Opener(other))
    restore(workspace, backup.path, LATER, opener=Opener(key))
    assert_is_back(workspace)
    assert public in (workspace.root / "recipients.txt").read_text()


def test_notes_of_the_desk_come_back_and_its_keys_stay_as_they_are(workspace: Workspace) -> None:
    (workspace.desk / "sheets" / "p1").mkdir(parents=True)
    (workspace.desk / "sheets" / "p1" / "T1.1.jsonl").write_text("noted")
    (workspace.desk / "keys.sqlite").write_text("of then")
    copy = back_up(workspace, NOON).path
    shutil.rmtree(workspace.desk / "sheets")
    (workspace.desk / "keys.sqlite").write_text("of now")
    restore(workspace, copy, LATER)
    assert (workspace.desk / "sheets" / "p1" / "T1.1.jsonl").read_text() == "noted"
    assert (workspace.desk / "keys.sqlite").read_text() == "of now"
    elsewhere = Workspace(workspace.root.with_name("elsewhere"))
    restore(elsewhere, copy, LATER, from_elsewhere=True)
    assert [path.name for path in elsewhere.desk.rglob("*") if path.is_file()] == ["T1.1.jsonl"]


def test_a_passphrase_opens_what_it_closed(workspace: Workspace) -> None:
    copy = back_up(workspace, NOON, readers=Readers(passphrase=PHRASE)).path
    spoil(workspace)
    with pytest.raises(WorkspaceError, match="cannot be decrypted"):
        restore(workspace, copy, LATER, opener=Opener(passphrase=PHRASE[1:]))
    restore(workspace, copy, LATER, opener=Opener(passphrase=PHRASE))
    assert_is_back(workspace)


@pytest.mark.parametrize("n_refusals", [5, 6])
def test_a_machine_that_is_too_busy_for_a_passphrase_tries_again_and_then_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, n_refusals: int
) -> None:
    copy = tmp_path / "copy"
    copy.write_bytes(b"age-encryption.org/v1\n-> scrypt c2FsdHNhbHRzYWx0c2FsdA 18\n")
    refusals = iter(range(n_refusals))

    def busy(data: bytes, phrase: str) -> bytes:
        if next(refusals, None) is not None:
            raise pyrage.DecryptError("Excessive work parameter for passphrase.")
        assert (data, phrase) == (copy.read_bytes(), PHRASE)
        return b"rows"

    monkeypatch.setattr(pyrage.passphrase, "decrypt", busy)
    if n_refusals == 6:
        with pytest.raises(WorkspaceError, match="as busy as it is"):
            decrypt(copy, tmp_path / "again", Opener(passphrase=PHRASE))
        return
    decrypt(copy, tmp_path / "again", Opener(passphrase=PHRASE))
    assert (tmp_path / "again").read_bytes() == b"rows"


def test_a_backup_can_be_brought_to_another_machine(workspace: Workspace, tmp_path: Path) -> None:
    backup = back_up(workspace, NOON)
    restore(Workspace(tmp_path / "elsewhere"), backup.path, LATER)
    assert Workspace(tmp_path / "elsewhere").academy().name == "lakeside"


def test_a_backup_of_another_workspace_is_taken_only_when_told_so(workspace: Workspace, tmp_path: Path) -> None:
    other = create_workspace(tmp_path / "other")
    back_up(other, NOON)
    copy = back_up(workspace, NOON).path
    with pytest.raises(WorkspaceError, match="another workspace"):
        restore(other, copy, LATER)
    restore(other, copy, LATER, from_elsewhere=True)
    assert_is_back(other)


def test_it_says_how_big_it_becomes_first(workspace: Workspace) -> None:
    told: list[str] = []
    restore(workspace, back_up(workspace, NOON).path, LATER, tell=told.append)
    assert told[0].startswith("It becomes ")
    assert told[0].endswith("MB in 4 files.")


def forged(workspace: Workspace, copy: Path, change: Callable[[dict[str, bytes]], None], *, signed: bool) -> Path:
    """The backup with something changed; ``signed``: by somebody who has the workspace's secret, so that other checks are met."""
    with tarfile.open(copy) as tar:
        found = {member.name: tar.extractfile(member).read() for member in tar}  # type: ignore[union-attr]
    change(found)
    if signed:
        found[unpack.HEAD] = signature(found[unpack.MANIFEST], workspace.backup_key()).encode()
    target = copy.with_name("forged.tar.gz")
    with tarfile.open(target, "w:gz") as tar:
        for name, data in found.items():
            head = tarfile.TarInfo(name)
            head.size = len(data)
            tar.addfile(head, io.BytesIO(data))
    return target


def listed(found: dict[str, bytes], name: str, data: bytes, size: int | None = None) -> None:
    import hashlib  # noqa: PLC0415 - only here

    manifest = json.loads(found[unpack.MANIFEST])
    manifest["files"][name] = {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data) if size is None else size}
    found[unpack.MANIFEST] = json.dumps(manifest).encode()


def with_file(name: str, data: bytes, size: int | None = None) -> Callable[[dict[str, bytes]], None]:
    def change(found: dict[str, bytes]) -> None:
        listed(found, name, data, size)
        found[name] = data

    return change


def of_version(**told: object) -> Callable[[dict[str, bytes]], None]:
    def change(found: dict[str, bytes]) -> None:
        found[unpack.MANIFEST] = json.dumps(json.loads(found[unpack.MANIFEST]) | told).encode()

    return change


FORGERIES: dict[str, tuple[Callable[[dict[str, bytes]], None], bool, str]] = {
    "another content": (lambda found: found.update({"archive/a": b"another."}), False, "damaged: archive/a"),
    "another content that is listed": (with_file("archive/a", b"another."), False, "was changed since"),
    "a file too many": (lambda found: found.update({"archive/b": b"x"}), False, "damaged: archive/b"),
    "a file too few": (lambda found: found.pop("archive/a") and None, False, "damaged: archive/a is missing"),
    "longer than listed": (with_file("archive/b", b"xx", 1), True, "damaged: archive/b"),
    "above the folder": (with_file("archive/../../b", b"x"), True, "not a whole backup"),
    "an absolute place": (with_file("/etc/b", b"x"), True, "not a whole backup"),
    "beside what is kept": (with_file(".bashrc", b"x"), True, "not a whole backup"),
    "a place in the site": (with_file("site/coach/index.html", b"x"), True, "not a whole backup"),
    "a bomb": (with_file("archive/b", b"\0" * 110_000_000), True, "would grow from"),
    "more than there is room": (with_file("archive/b", b"x", 10**18), True, "would (grow|become)"),
    "less than nothing": (with_file("archive/b", b"x", -5), True, "not a whole backup"),
    "no list": (lambda found: found.pop(unpack.MANIFEST) and None, False, "not a whole backup"),
    "no signature": (lambda found: found.pop(unpack.HEAD) and None, False, "not a whole backup"),
    "another signature": (lambda found: found.update({unpack.HEAD: b"0" * 64}), False, "was changed since"),
    "a list that is none": (lambda found: found.update({unpack.MANIFEST: b"[]"}), True, "not a whole backup"),
    "a newer version": (of_version(migration=9999, version="99.0"), True, "speedworth 99.0, which is newer"),
    "a newer form": (of_version(format=2), True, "newer"),
}


@pytest.fixture(scope="module")
def forging(tmp_path_factory: pytest.TempPathFactory) -> tuple[Workspace, Path]:
    made = create_workspace(tmp_path_factory.mktemp("forging") / "lakeside")
    (made.archive / "a").write_text("original")
    return made, back_up(made, NOON).path


@pytest.mark.parametrize("what", FORGERIES)
def test_a_forged_backup_is_refused_and_changes_nothing(forging: tuple[Workspace, Path], what: str) -> None:
    workspace, copy = forging
    change, signed, told = FORGERIES[what]
    with pytest.raises(SpeedworthError, match=told) as refused:
        restore(workspace, forged(workspace, copy, change, signed=signed), LATER)
    assert "\n" not in str(refused.value)
    assert (workspace.archive / "a").read_text() == "original"
    assert not list(workspace.root.glob(".restore*"))


@pytest.mark.parametrize("kind", [tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.CHRTYPE, tarfile.FIFOTYPE, tarfile.DIRTYPE])
def test_only_files_come_out_of_a_backup(forging: tuple[Workspace, Path], kind: bytes) -> None:
    workspace, copy = forging
    manifest = {"format": 1, "version": "0", "made_at": "", "migration": 0, "files": {"archive/b": {"sha256": "0", "bytes": 0}}}
    data = json.dumps(manifest).encode()
    target = copy.with_name("odd.tar.gz")
    with tarfile.open(target, "w:gz") as tar:
        for name, content in ((unpack.MANIFEST, data), (unpack.HEAD, signature(data, workspace.backup_key()).encode())):
            head = tarfile.TarInfo(name)
            head.size = len(content)
            tar.addfile(head, io.BytesIO(content))
        odd = tarfile.TarInfo("archive/b")
        odd.type, odd.linkname = kind, "/etc/hostname"
        tar.addfile(odd)
    with pytest.raises(WorkspaceError, match="damaged"):
        restore(workspace, target, LATER)


@pytest.mark.parametrize("data", [b"", b"not a tar", b"\x1f\x8b\x08\0\0\0\0\0", b"age-encryption.org/v1\n-> X25519 x\n"])
def test_what_is_no_backup_is_said_to_be_none(forging: tuple[Workspace, Path], tmp_path: Path, data: bytes) -> None:
    (tmp_path / "odd").write_bytes(data)
    with pytest.raises((WorkspaceError, UsageError)):
        restore(forging[0], tmp_path / "odd", LATER)


def test_a_cut_backup_changes_nothing(workspace: Workspace) -> None:
    backup = back_up(workspace, NOON)
    whole = backup.path.read_bytes()
    for share in (0.3, 0.9, 0.999):
        backup.path.write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(WorkspaceError):
            restore(workspace, backup.path, LATER)
    assert_is_back(workspace)


@pytest.mark.parametrize("at", range(24))
def test_a_restore_ended_at_any_step_is_finished_by_the_next_start(
    forging: tuple[Workspace, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    shutil.copytree(forging[0].root, tmp_path / "one")
    workspace = Workspace(tmp_path / "one")
    copy = workspace.backups / forging[1].name
    (workspace.archive / "a").write_text("spoiled")
    (workspace.root / "audit.log").write_text("later\n")
    left = [at]
    really = {name: getattr(Path, name) for name in ("replace", "rename", "unlink", "rmdir")}

    def ending(name: str) -> Callable[..., object]:
        def step(self: Path, *rest: object, **named: object) -> object:
            if self.is_relative_to(workspace.root) and ".part-" not in str(self):
                left[0] -= 1
                if left[0] < 0:
                    raise KeyboardInterrupt
            return really[name](self, *rest, **named)

        return step

    with monkeypatch.context() as patched:
        for name in really:
            patched.setattr(Path, name, ending(name))
        try:
            restore(workspace, copy, LATER)
            finished = True
        except KeyboardInterrupt:
            finished = False
    due = (workspace.root / exchange._MARKER).exists()
    with writing(workspace, "the next start"):
        pass
    content = (workspace.archive / "a").read_text()
    assert content == ("original" if finished or due or content == "original" else "spoiled")
    assert workspace.settings.is_file()
    assert not (workspace.root / exchange._MARKER).exists()
    if content == "original":
        assert (workspace.backups / "replaced-2026-03-02T120000Z" / "archive" / "a").read_text() == "spoiled"


def test_a_full_disk_leaves_no_half_backup(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(tarfile.TarFile, "add", full)
    with pytest.raises(OSError, match="No space"):
        back_up(workspace, NOON)
    assert list(workspace.backups.iterdir()) == []


def test_a_restore_without_room_changes_nothing(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    copy = back_up(workspace, NOON).path
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage(10, 9, 1))
    with pytest.raises(WorkspaceError, match="Make room"):
        restore(workspace, copy, LATER)
    assert_is_back(workspace)


def test_a_backup_of_a_newer_version_is_refused(workspace: Workspace) -> None:
    with open_warehouse(workspace.warehouse) as con:
        con.execute("insert into migration values (9999, 'later', 'x', timestamp '2030-01-01')").fetchall()
    with pytest.raises(WarehouseNewerError):
        back_up(workspace, NOON)


def test_the_checksum_of_each_backup_is_kept(workspace: Workspace) -> None:
    first, second = back_up(workspace, NOON).path, back_up(workspace, LATER).path
    assert sums_of(workspace) == {path.name: sha256_of(path) for path in (first, second)}


def test_what_is_not_there_is_not_restored(workspace: Workspace) -> None:
    with pytest.raises(NotFoundError, match="backups"):
        restore(workspace, workspace.backups / "none.tar.gz", NOON)


def test_no_backup_while_a_run_is_at_work(workspace: Workspace) -> None:
    with writing(workspace, "a run"), pytest.raises(WarehouseBusyError, match="a run"):
        back_up(workspace, NOON)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "--new-key FILE"),
        (("--to", "age1nobody"), "no public key"),
        (("--plain", "--passphrase"), "Only one of"),
        (("--new-key", "{root}/key.txt"), "lies in the workspace"),
        (("--new-key", "{root}/../there.txt"), "exists already"),
    ],
)
def test_the_command_wants_to_know_who_can_read_it(
    workspace: Workspace, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], told: str
) -> None:
    (workspace.root.parent / "there.txt").touch()
    typed = [word.format(root=workspace.root) for word in words]
    assert main(["backup", "-w", str(workspace.root), *typed]) == UsageError.exit_code
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1
    assert list(workspace.backups.iterdir()) == []


def test_a_key_made_by_the_command_opens_the_backup(
    workspace: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = tmp_path / "key.txt"
    assert main(["backup", "-w", str(workspace.root), "--new-key", str(key), "-q"]) == 0
    copy = capsys.readouterr().out.strip()
    spoil(workspace)
    assert main(["restore", copy, "-w", str(workspace.root), "--key", str(key)]) == 0
    assert_is_back(workspace)
