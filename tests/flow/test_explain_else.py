"""What `explain` says of a file, a player or a problem, which people ask about as they do about a flag."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

from tests.flow.conftest import refused, typed

if TYPE_CHECKING:
    import pytest

    from pipelines.workspace import Workspace

SESSIONS = (
    "session_id,player_id,started_at,kind,duration_min\n"
    "n1,heron,2026-01-09T10:00:00,range,60\nn2,heron,2026-01-10,range,60\nn3,heron,2026-01-11,range,60\n"
    "n4,heron,2026-01-12T10:00:00,range,60\nn5,heron,2026-01-12T12:00:00,range,60\n"
)


def test_a_file_is_explained_by_its_name_with_line_column_and_what_to_do(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    name = unicodedata.normalize("NFD", "sessions_fällig.csv")
    (workspace.inbox / name).write_text(SESSIONS)
    typed(capsys, "run", "-w", workspace.root)
    code, out, _ = typed(capsys, "explain", unicodedata.normalize("NFC", name), "-w", workspace.root)
    assert code == 0
    assert "loaded, came on" in out
    assert "nothing of it is lost" in out
    assert "- line 3 and one more, column started_at: 2026-01-10 – not a date and time." in out
    assert "What to do: Write the time as year-month-day" in out
    assert "The whole list: quarantine/" in out


def test_a_problem_and_a_player_are_explained_and_anything_else_is_not(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(capsys, "run", "-w", workspace.root)
    _, out, _ = typed(capsys, "explain", "mostly bad", "-w", workspace.root)
    assert out.startswith("more than half of the rows bad. Allowed: at most half of the rows bad. What to do: ")
    _, out, _ = typed(capsys, "explain", "out_of_range", "-w", workspace.root)
    assert out == "outside the limits. What to do: Check the reading and its unit.\n"
    _, out, _ = typed(capsys, "explain", "heron", "-w", workspace.root)
    assert "speedworth flags --player heron" in out
    for nobody in ("nonsense", ""):
        code, said = refused(capsys, "explain", nobody, "-w", workspace.root)
        assert (code, said.startswith(f"Error: There is no flag {nobody}")) == (10, True)


def test_who_sees_only_a_part_is_told_of_no_file(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    (workspace.inbox / "sessions_n.csv").write_text(SESSIONS)
    typed(capsys, "run", "-w", workspace.root)
    code, said = refused(capsys, "explain", "sessions_n.csv", "--for", "coach", "-w", workspace.root)
    assert code == 10
    assert "quarantine" not in said


def test_a_file_is_found_by_what_people_write_for_its_name(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    (workspace.inbox / "sessions_n.csv").write_text(SESSIONS)
    typed(capsys, "run", "-w", workspace.root)
    paths = (workspace.inbox / "sessions_n.csv", "inbox/sessions_n.csv", "C:\\my files\\sessions_n.csv")
    for named in (*paths, "SESSIONS_N.CSV", "Sessions_N"):
        assert typed(capsys, "explain", named, "-w", workspace.root)[1].startswith("sessions_n.csv: loaded")
    code, said = refused(capsys, "explain", "session_n.csv", "-w", workspace.root)
    assert (code, "Did you mean sessions_n.csv" in said) == (10, True)


def test_a_file_that_is_no_longer_as_somebody_thinks_is_told_how_it_is(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace.inbox / "sessions_n.csv").write_text(SESSIONS)
    (workspace.inbox / "sessions_held.csv").write_text("a\n1\n")
    typed(capsys, "run", "-w", workspace.root)
    for command, named, says in (
        ("withdraw", "sessions_held.csv", "sessions_held.csv is held, not loaded or superseded. Nothing of it counts"),
        ("again", "sessions_n.csv", "sessions_n.csv is loaded, not held. It counts as it is"),
        ("withdraw", "session_n.csv", "Did you mean sessions_n.csv"),
    ):
        code, said = refused(capsys, command, named, "-w", workspace.root)
        assert (code, says in said) == (10, True), said


def test_of_a_file_of_which_not_all_was_kept_it_is_not_said_that_nothing_is_lost(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace.inbox / "players_n.csv").write_text("player_id,alias,health_consent\nn1,Teal,false\n")
    (workspace.inbox / "checkins_n.csv").write_text("player_id,date,fatigue\nn1,2026-01-09,3\n")
    typed(capsys, "run", "-w", workspace.root)
    _, out, _ = typed(capsys, "explain", "checkins_n.csv", "-w", workspace.root)
    assert "What may be kept of it lies in" in out
    assert "nothing of it is lost" not in out


def test_of_several_files_of_one_name_the_newest_is_explained(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever corrects a file drops it under the same name, and asks what has become of it."""
    path = workspace.inbox / "sessions_n.csv"
    for text in (SESSIONS, SESSIONS.replace("2026-01-10,", "2026-01-10T10:00,").replace("2026-01-11,", "2026-01-11T10:00,")):
        path.write_text(text)
        typed(capsys, "run", "-w", workspace.root)
    code, out, _ = typed(capsys, "explain", "sessions_n.csv", "-w", workspace.root)
    assert (code, "No problem of it is open." in out) == (0, True)
