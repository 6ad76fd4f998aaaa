"""Texts that rest on the program alone are made once for all workspaces of a user, and read as they were made."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from reports import shared_files
from reports.kept_texts import MOST_KEPT, kept_text
from reports.pages.context import page_context
from reports.shared_files import shared_names
from reports.words import Words
from schemas.academy import Academy, Units

ROOT = Path(__file__).parents[2]
AGAIN = """
import sys
from datetime import date
from reports.pages.context import page_context
from reports.shared_files import shared_files
from schemas.academy import Academy
for make in shared_files(page_context(Academy("Lakeside", "Europe/Berlin"), "coach", date(2026, 3, 1))).values():
    make()
print("altair" in sys.modules, "vl_convert" in sys.modules)
"""


class Made:
    """Counts how often it is asked."""

    def __init__(self, text: str = "größer\r\nals\n") -> None:
        self.text, self.n = text, 0

    def __call__(self) -> str:
        self.n += 1
        return self.text


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of one's own; texts lie in the folder ``speedworth`` below it."""
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path / "speedworth"


def _only(cache: Path) -> Path:
    (file,) = cache.iterdir()
    return file


def test_a_text_is_made_once_and_read_as_it_was(cache: Path) -> None:
    made = Made()
    assert [kept_text("key", made) for _ in range(3)] == [made.text] * 3
    assert made.n == 1
    assert cache.stat().st_mode & 0o777 == 0o700
    assert _only(cache).stat().st_mode & 0o777 == 0o600


def test_another_key_is_another_text(cache: Path) -> None:
    assert kept_text("one", Made("1")) == "1"
    assert kept_text("two", Made("2")) == "2"
    assert kept_text("one", Made("3")) == "1"


@pytest.mark.parametrize("end", [None, 0, 30, -1])
def test_what_a_crash_left_is_made_anew(cache: Path, end: int | None) -> None:
    kept_text("key", Made())
    file = _only(cache)
    file.write_bytes(file.read_bytes()[:end] if end is not None else file.read_bytes() + b"more")
    made = Made()
    assert kept_text("key", made) == made.text
    assert kept_text("key", made) == made.text
    assert made.n == 1


def test_a_folder_that_others_may_write_into_is_not_used(cache: Path) -> None:
    kept_text("key", Made("theirs"))
    cache.chmod(0o777)
    assert [kept_text("key", Made("own")), kept_text("other", Made("own"))] == ["own", "own"]
    assert len(list(cache.iterdir())) == 1


def test_a_link_in_its_place_is_not_followed(cache: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir(mode=0o700)
    cache.symlink_to(tmp_path / "elsewhere")
    assert kept_text("key", Made("own")) == "own"
    assert not list((tmp_path / "elsewhere").iterdir())


def test_without_room_or_right_a_text_is_made(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache.write_text("a file in the folder's place")
    assert kept_text("key", Made("own")) == "own"
    cache.unlink()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    assert kept_text("key", Made("own")) == "own"
    assert not list(cache.iterdir())


def test_without_a_home_a_text_is_made(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setattr(Path, "home", homeless)
    assert kept_text("key", Made("own")) == "own"


def test_few_texts_are_kept(cache: Path) -> None:
    for number in range(MOST_KEPT + 3):
        kept_text(str(number), Made())
        for file in cache.iterdir():
            os.utime(file, ns=(file.stat().st_mtime_ns - 10**9,) * 2)
    newest, oldest = Made(), Made()
    kept_text(str(MOST_KEPT + 2), newest)
    kept_text("0", oldest)
    assert (newest.n, oldest.n, len(list(cache.iterdir()))) == (0, 1, MOST_KEPT)


@pytest.mark.usefixtures("cache")
def test_a_second_process_needs_no_chart_library() -> None:
    """In a folder of its own: of the user's, other tests and programs drop the oldest."""
    shared_files._chart_library.cache_clear()  # this process may have it from there
    for make in shared_files.shared_files(page_context(Academy("Lakeside", "Europe/Berlin"), "coach", date(2026, 3, 1))).values():
        make()
    done = subprocess.run([sys.executable, "-c", AGAIN], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False False"


def test_the_book_is_another_for_other_words_units_or_program(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keys: list[str] = []
    monkeypatch.setattr(shared_files, "kept_text", lambda key, _: keys.append(key) or "")
    plain = page_context(Academy("Lakeside", "Europe/Berlin"), "coach", date(2026, 3, 1))
    other = Words("en", {**plain.words.texts, "chart.day": "Another"})
    metric = page_context(Academy("Lakeside", "Europe/Berlin", units=Units("km/h", "m")), "coach", date(2026, 3, 1))
    german = page_context(Academy("Lakeside", "Europe/Berlin", language="de"), "coach", date(2026, 3, 1))
    for one in (plain, replace(plain, words=other), metric, german):
        shared_files.shared_files(one)[shared_names(one).book]()
    shared_files._names.cache_clear()
    monkeypatch.setattr(shared_files, "program_stamp", lambda: "another")
    shared_files.shared_files(plain)[shared_names(plain).book]()
    shared_files._names.cache_clear()
    assert len(set(keys)) == len(keys) == 5
