from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from reports.shelf import exchange, list_of, new_site
from reports.tokens import player_token
from schemas.errors import RenderError

if TYPE_CHECKING:
    from pathlib import Path

KEY = b"k" * 32


def lay(site_dir: Path, files: dict[str, str], players: dict[str, tuple[str, dict[str, str]]] | None = None) -> tuple[int, int]:
    with new_site(site_dir) as site:
        for path, text in files.items():
            site.put(path, text.encode())
        for player_id, (digest, pages) in (players or {}).items():
            if site.old_entry("coach", player_id, digest) is None:
                site.put_player("coach", player_id, digest, {path: text.encode() for path, text in pages.items()}, {})
            else:
                site.keep("coach", player_id)
        for path in site.no_longer_made("coach"):
            site.put_gone(path, "gone")
    return site.n_written, site.n_unchanged


def test_only_what_changed_is_written(tmp_path: Path) -> None:
    site = tmp_path / "site"
    assert lay(site, {"coach/a.html": "1", "coach/b.html": "2"}) == (2, 0)
    inode = (site / "coach/a.html").stat().st_ino
    assert lay(site, {"coach/a.html": "1", "coach/b.html": "3"}) == (1, 1)
    assert (site / "coach/a.html").stat().st_ino == inode
    assert (site / "coach/b.html").read_text() == "3"


def test_a_fault_leaves_the_old_site_whole(tmp_path: Path) -> None:
    site = tmp_path / "site"
    lay(site, {"coach/a.html": "1"})

    def fail_half_way() -> None:
        with new_site(site) as shelf:
            shelf.put("coach/a.html", b"2")
            raise RuntimeError("no")

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert (site / "coach/a.html").read_text() == "1"
    assert sorted(path.name for path in tmp_path.iterdir()) == [".site-pages.json", "site"]


def test_pages_of_a_player_are_kept_while_the_rows_are_the_same(tmp_path: Path) -> None:
    site = tmp_path / "site"
    lay(site, {}, {"p1": ("rows-1", {"coach/players/p1.html": "old"})})
    lay(site, {}, {"p1": ("rows-1", {"coach/players/p1.html": "never made"})})
    assert (site / "coach/players/p1.html").read_text() == "old"
    lay(site, {}, {"p1": ("rows-2", {"coach/players/p1.html": "new"})})
    assert (site / "coach/players/p1.html").read_text() == "new"


def test_an_old_link_finds_a_line_but_an_erased_player_leaves_nothing(tmp_path: Path) -> None:
    site = tmp_path / "site"
    lay(site, {"coach/trials/t1.html": "trial"}, {"p1": ("1", {"coach/players/p1.html": "x"})})
    for _ in range(2):
        lay(site, {"coach/index.html": "start"})
        assert (site / "coach/trials/t1.html").read_text() == "gone"
        assert not (site / "coach/players/p1.html").exists()
        assert "p1" not in list_of(site).read_text()


def test_two_pages_cannot_want_the_same_place(tmp_path: Path) -> None:
    def lay_twice() -> None:
        with new_site(tmp_path / "site") as site:
            site.put("coach/a.html", b"1")
            site.put("coach/a.html", b"2")

    with pytest.raises(RenderError, match=r"a\.html"):
        lay_twice()


def test_the_exchange_is_one_step(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "new").touch()
    assert exchange(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "a" / "new").exists()


def test_a_site_that_was_cut_off_between_two_renames_comes_back(tmp_path: Path) -> None:
    site = tmp_path / "site"
    lay(site, {"coach/a.html": "1"})
    site.rename(tmp_path / ".site-before")
    assert lay(site, {"coach/a.html": "1"}) == (0, 1)


def test_an_unreadable_list_only_costs_a_full_build(tmp_path: Path) -> None:
    site = tmp_path / "site"
    lay(site, {"coach/a.html": "1"})
    list_of(site).write_text("[")
    assert lay(site, {"coach/a.html": "1"}) == (1, 0)


def test_a_folder_that_cannot_be_written_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(RenderError, match="cannot be written"):
        lay(tmp_path / "file" / "site", {})


def test_a_players_folder_is_stable_and_cannot_be_guessed() -> None:
    assert player_token("p1", KEY) == player_token("p1", KEY)
    assert player_token("p1", KEY) != player_token("p1", b"j" * 32)
    assert player_token("p1", KEY) != player_token("p2", KEY)
    assert len(player_token("p1", KEY)) == 26
    with pytest.raises(ValueError, match="16"):
        player_token("p1", b"short")
