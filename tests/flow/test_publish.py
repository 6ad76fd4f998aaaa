"""Pages for others to read: one audience a folder, whole or not at all, over nothing foreign; seen links are renewed."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from pipelines.cli.main import main
from pipelines.runs import Night, publish_rooms, renew_and_rerun, run_night
from pipelines.stages import publish as publishing
from pipelines.stages.backup import back_up
from pipelines.stages.player_erasure import erase_player
from pipelines.stages.publish import all_rooms
from pipelines.stages.restore import restore
from reports.tokens import player_token, renewed_key
from schemas.errors import NotFoundError, RenderError, WorkspaceError
from tests.broad import some_of
from tests.flow.conftest import NIGHT

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def tokens(workspace: Workspace) -> set[str]:
    return {player_token(player, workspace.site_key()) for player in ("heron", "stork", "wren")}


def test_no_list_of_links_lies_in_the_site(finished: Workspace) -> None:
    ours = files(finished.site)
    assert {name.split("/")[0] for name in ours} == {"coach", "physio", "data", "players"}
    told = [name for name, data in ours.items() for token in tokens(finished) if token.encode() in data]
    assert told == []


def test_every_room_is_published_into_a_folder_of_its_own(finished: Workspace, tmp_path: Path) -> None:
    made = publish_rooms(Night(finished, NIGHT), all_rooms(tmp_path / "out"))
    assert [(one.audience, one.n_files == one.n_new, one.n_gone) for one in made] == [
        (audience, True, 0) for audience in ("coach", "physio", "data", "player")
    ]
    for name in ("coach", "physio", "data"):
        assert files(tmp_path / "out" / name) == files(finished.site / name)
    players = files(tmp_path / "out" / "players")
    front = players.pop("index.html").decode()
    assert players == files(finished.site / "players")
    assert not any(token in front for token in tokens(finished))
    again = publish_rooms(Night(finished, NIGHT), all_rooms(tmp_path / "out"))
    assert [(one.n_new, one.n_gone) for one in again] == [(0, 0)] * 4
    assert not any((tmp_path / "out").rglob(".*"))


def test_pages_that_are_gone_are_gone_there_and_an_erasure_names_the_folder(finished: Workspace, tmp_path: Path) -> None:
    out = tmp_path / "out"
    publish_rooms(Night(finished, NIGHT), {"coach": out})
    assert any("heron" in name for name in files(out))
    erasure = erase_player(finished, "heron", NIGHT)
    assert erasure.published == (str(out),)
    with pytest.raises(NotFoundError, match="no pages yet"):
        publish_rooms(Night(finished, NIGHT), {"coach": out})
    run_night(Night(finished, NIGHT))
    (made,) = publish_rooms(Night(finished, NIGHT), {"coach": out})
    assert made.n_gone > 0
    assert [name for name, data in files(out).items() if b"heron" in name.encode() + data.lower()] == []


@pytest.mark.parametrize("what", ["a file", "a link", "a hidden file", "in a folder"])
def test_a_folder_that_holds_anything_else_is_left_alone(finished: Workspace, tmp_path: Path, what: str) -> None:
    out, night = tmp_path / "out", Night(finished, NIGHT)
    publish_rooms(night, {"coach": out})
    foreign = {"a hidden file": out / ".rules", "in a folder": out / "players" / "mine.html"}.get(what, out / "mine")
    foreign.symlink_to("/etc/hostname") if what == "a link" else foreign.write_text("mine")
    before = files(out)
    with pytest.raises(WorkspaceError, match="which was not published there"):
        publish_rooms(night, {"physio": tmp_path / "physio", "coach": out})
    assert files(out) == before
    assert not (tmp_path / "physio").exists()


@pytest.mark.parametrize("place", [".", "site", "site/coach", "inbox/out", ".."])
def test_nothing_is_published_into_the_workspace_or_around_it(finished: Workspace, tmp_path: Path, place: str) -> None:
    before = files(finished.root)
    with pytest.raises(WorkspaceError, match="lie in each other"):
        publish_rooms(Night(finished, NIGHT), {"coach": finished.root / place})
    (tmp_path / "door").symlink_to(finished.site, target_is_directory=True)
    with pytest.raises(WorkspaceError, match="lie in each other"):
        publish_rooms(Night(finished, NIGHT), {"coach": tmp_path / "door" / "new"})
    assert files(finished.root).keys() == before.keys()


def test_a_folder_of_one_audience_is_never_exchanged_for_anothers_pages(finished: Workspace, tmp_path: Path) -> None:
    out, night = tmp_path / "out", Night(finished, NIGHT)
    publish_rooms(night, {"player": out})
    before = files(out)
    with pytest.raises(WorkspaceError, match="holds the player's pages: whoever reads them would read the coach's"):
        publish_rooms(night, {"coach": out})
    assert files(out) == before
    shutil.rmtree(out)
    publish_rooms(night, {"coach": out})
    assert files(out) == files(finished.site / "coach")


def test_pages_that_somebody_changed_are_not_handed_on(finished: Workspace, tmp_path: Path) -> None:
    (finished.site / "coach" / "squad.html").write_text("other")
    with pytest.raises(RenderError, match=r"squad\.html is not as it was written"):
        publish_rooms(Night(finished, NIGHT), {"coach": tmp_path / "out"})
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("step", some_of(["put_in_place", "_lay", "_note"]))
def test_a_full_disk_or_a_kill_leaves_the_old_pages_and_the_next_time_is_whole(
    finished: Workspace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    out, night = tmp_path / "out", Night(finished, NIGHT)
    publish_rooms(night, {"coach": out})
    before = files(out)
    renew_and_rerun(night, "heron")
    with monkeypatch.context() as patch:
        really = getattr(publishing, step)

        def full(*arguments: object) -> None:
            really(*arguments)
            raise OSError(28, "No space left on device")

        patch.setattr(publishing, step, full)
        with pytest.raises(WorkspaceError, match="No space left"):
            publish_rooms(night, {"coach": out})
    assert files(out).keys() >= before.keys() if step == "put_in_place" else files(out) == before
    publish_rooms(night, {"coach": out})
    assert files(out) == files(finished.site / "coach")
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_a_new_folder_is_the_owners_and_one_that_is_there_keeps_who_may_read(finished: Workspace, tmp_path: Path) -> None:
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o750)
    publish_rooms(Night(finished, NIGHT), {"coach": shared, "physio": tmp_path / "own"})
    modes = {path.stat().st_mode & 0o777 for path in (tmp_path / "own").rglob("*")} | {(tmp_path / "own").stat().st_mode & 0o777}
    assert modes == {0o700, 0o600}
    assert {path.stat().st_mode & 0o777 for path in (shared, *shared.rglob("*"))} == {0o750, 0o640}


def test_a_renewed_link_is_another_and_nobody_elses_changes(finished: Workspace) -> None:
    before, key = set((finished.site / "players").iterdir()), finished.site_key()
    outcome = renew_and_rerun(Night(finished, NIGHT), "heron")
    after = set((finished.site / "players").iterdir())
    assert outcome.site.n_links_new == 1
    assert {path.name for path in before - after} == {player_token("heron", key)}
    assert {path.name for path in after - before} == {player_token("heron", finished.site_key())}
    assert player_token("heron", finished.site_key()) in (finished.root / "player-links.csv").read_text()
    assert b"heron" not in finished.key_file.read_bytes()


def test_a_lost_secret_makes_every_link_new_and_is_told(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path.name for path in (finished.site / "players").iterdir() if path.is_dir() and path.name != "assets"}
    finished.key_file.unlink()
    assert main(["run", "-w", str(finished.root)]) == 0
    assert "New links: 3 players have one" in capsys.readouterr().err
    after = {path.name for path in (finished.site / "players").iterdir()}
    assert (len(before), before & after) == (3, set())
    assert main(["links", "renew", "--all", "-w", str(finished.root)]) == 0
    assert after & {path.name for path in (finished.site / "players").iterdir()} == {"assets", "methods.html"}


def test_a_restored_backup_does_not_open_a_link_that_was_closed(finished: Workspace) -> None:
    copy, old = back_up(finished, NIGHT).path, finished.site_key()
    renew_and_rerun(Night(finished, NIGHT), "heron")
    restore(finished, copy, NIGHT)
    assert finished.site_key() == renewed_key(old, "heron")
    finished.key_file.unlink()
    shutil.rmtree(finished.backups / f"replaced-{NIGHT:%Y-%m-%dT%H%M%SZ}")
    restore(finished, copy, NIGHT)
    assert finished.site_key() == old


def test_renewing_again_and_again_never_comes_back() -> None:
    key, seen = b"k" * 32, []
    for _ in range(5):
        seen.append((player_token("p1", key), player_token("p2", key)))
        key = renewed_key(key, "p1")
    assert (len({one for one, _ in seen}), len({two for _, two in seen})) == (5, 1)


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["publish", "{out}"], 2), (["publish", "{out}", "--all", "--audience", "coach"], 2),
        (["links", "renew"], 2), (["links", "renew", "heron", "--all"], 2), (["links", "renew", "nobody"], 10),
        (["publish", "{out}", "--audience", "coach"], 0), (["publish", "{out}", "--all"], 0),
    ],
)  # fmt: skip
def test_the_commands(
    finished: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int
) -> None:
    out = tmp_path / "out"
    assert main([*(one.format(out=out) for one in arguments), "-w", str(finished.root)]) == code
    shown = capsys.readouterr()
    assert shown.err.count("\n") == 1 if code else str(out) in shown.out
    assert out.exists() == (not code)
