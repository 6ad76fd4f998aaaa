"""Commands as a person types them: what they print, their exit codes, and one line for each mistake."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from pipelines.stages import opened
from pipelines.workspace import Workspace, writing
from tests.flow.conftest import BY_HAND, refused, typed
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

HOLD = """
import sys
from pathlib import Path
from warehouse.connection import open_warehouse
with open_warehouse(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_new_drop_run_run(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = typed(capsys, "run", "-w", workspace.root)
    assert code == 0
    assert out.splitlines()[-1] == str(workspace.site / "coach" / "index.html")
    assert "Rows in: 85 = 81 loaded + 4 quarantined." in err
    assert re.search(r"shots_stork\.csv +loaded +15 +13 +2", out)
    code, out, err = typed(capsys, "run", "-w", workspace.root)
    assert (code, out.strip()) == (0, str(workspace.site / "coach" / "index.html"))
    assert "No new files." in err


def test_quiet_prints_the_result_only(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    assert typed(capsys, "run", "-q", "-w", workspace.root) == (0, f"{workspace.site / 'coach' / 'index.html'}\n", "")


def test_new_prints_the_folder_and_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = typed(capsys, "new", tmp_path / "w")
    assert (code, out) == (0, f"{tmp_path / 'w'}\n")
    assert "speedworth run" in err
    assert Workspace(tmp_path / "w").academy().name == "w"


@pytest.mark.parametrize("words", [["run"], ["doctor"], ["backup"], ["schedule"]], ids=" ".join)
def test_no_workspace(tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    code, line = refused(capsys, *words, "-w", tmp_path)
    assert code == 3
    assert "speedworth new DIR" in line


def test_a_folder_that_cannot_be_written(workspace: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").touch()
    code, line = refused(capsys, "new", tmp_path / "file" / "w")
    assert (code, "cannot be written" in line) == (3, True)
    workspace.archive.rmdir()
    workspace.archive.touch()
    code, line = refused(capsys, "run", "-w", workspace.root)
    assert (code, "archive cannot be written" in line) == (3, True)


def test_settings_that_cannot_be_used(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    workspace.settings.write_text('[academy]\nname = "x"\ntime_zone = "Mars"\n')
    code, line = refused(capsys, "run", "-w", workspace.root)
    assert code == 4
    assert "line 3" in line


def test_a_warehouse_held_by_another_process(
    finished: Workspace, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opened, "READERS_S", 0.3)
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(finished.warehouse)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        code, line = refused(capsys, "run", "-w", finished.root)
        holder.communicate("")
    assert code == 7
    assert "Wait" in line


def test_a_run_while_another_run_is_at_work(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    with writing(finished, "a run"):
        code, line = refused(capsys, "run", "-w", finished.root)
    assert code == 7
    assert "a run, process" in line


def test_a_database_from_a_newer_version(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    with open_warehouse(finished.warehouse) as con:
        con.execute("insert into migration values (9999, 'later', 'x', timestamp '2030-01-01')").fetchall()
    for command in (("run",), ("backup", "--plain")):
        code, line = refused(capsys, *command, "-w", finished.root)
        assert code == 8
        assert "newer" in line
    code, out, _ = typed(capsys, "doctor", "-w", finished.root)
    assert (code, "newer" in out) == (8, True)


def test_a_warehouse_that_is_no_database(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    finished.warehouse.write_bytes(b"not a database" * 1000)
    code, line = refused(capsys, "run", "-w", finished.root)
    assert code == 6
    assert "speedworth restore" in line


@pytest.mark.parametrize("words", [["nosuch"], ["run", "--nosuch"], ["new"], ["restore"]], ids=" ".join)
def test_a_wrong_word(capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    code, line = refused(capsys, *words)
    assert code == 2
    assert "--help" in line


def test_a_mistake_in_words_ends_as_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    code, line = refused(capsys, "log", "--last", 0)
    assert code == 2
    assert "equal to 1. Try `" in line


def test_backup_and_restore(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = typed(capsys, "backup", "--plain", "-w", finished.root)
    assert code == 0
    finished.warehouse.unlink()
    code, _, err = typed(capsys, "restore", out.strip(), "-w", finished.root)
    assert (code, "speedworth run" in err) == (0, True)
    assert finished.warehouse.exists()
    code, _ = refused(capsys, "restore", finished.root / "none", "-w", finished.root)
    assert code == 10


def test_the_doctor_says_what_is_fine(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    assert typed(capsys, "backup", "--plain", "-q", "-w", finished.root)[0] == 0
    code, out, _ = typed(capsys, "doctor", "-w", finished.root)
    assert code == 0
    assert "rows in are rows out" in out
    code, out, err = typed(capsys, "doctor", "-q", "-w", finished.root)
    assert (code, err) == (0, "")
    assert "look   backup" in out  # a copy that anybody can read is told, and nothing that is fine


def test_check_says_what_would_happen_and_changes_nothing(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = typed(capsys, "check", BY_HAND / "shots_stork.csv", "-w", finished.root)
    assert (code, "unchanged" in out) == (0, True)
    code, out, err = typed(capsys, "check", BY_HAND / "shots_stork.csv")
    assert (code, "unknown_word" in out, "No warehouse" in err) == (0, True, True)


def test_an_unreadable_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, line = refused(capsys, "check", tmp_path / "shots.csv")
    assert (code, "no file" in line) == (5, True)
    (tmp_path / "shots.csv").write_bytes(bytes(range(256)) * 50)
    code, _, err = typed(capsys, "check", tmp_path / "shots.csv")
    assert code == 5
    assert "would be held" in err
    assert "Traceback" not in err
    (tmp_path / "whiteboard.csv").write_text("a,b\n1,2\n")
    code, _, err = typed(capsys, "check", tmp_path / "whiteboard.csv")
    assert (code, "`speedworth map FILE --to NAME` says how it is read" in err) == (5, True)


def test_many_problems_are_told_by_kind(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    header, first, *_ = (BY_HAND / "plans.csv").read_text().splitlines()
    bad = [first.replace("240", "99999").replace("heron", f"p{number}") for number in range(50)]
    good = [first.replace("heron", f"q{number}") for number in range(60)]
    (tmp_path / "plans.csv").write_text("\n".join([header, *bad, *good]) + "\n")
    code, out, _ = typed(capsys, "check", tmp_path / "plans.csv")
    assert code == 0
    assert re.search(r"^ +50 +out_of_range +minutes", out, re.MULTILINE)
    assert len(out.splitlines()) < 12


@pytest.mark.parametrize("command", ["export", "erase"])
def test_an_unknown_player(finished: Workspace, capsys: pytest.CaptureFixture[str], command: str) -> None:
    words = ["player", command, "nobody", "-w", finished.root]
    code, line = refused(capsys, *words, *(["--yes"] if command == "erase" else []))
    assert code == 10
    assert "nobody" in line


def test_erasing_asks_first(finished: Workspace, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    code, line = refused(capsys, "player", "erase", "heron", "-w", finished.root)
    assert (code, "--yes" in line) == (2, True)
    monkeypatch.setattr(sys, "stdin", io.StringIO("wren\n"))
    code, line = refused(capsys, "player", "erase", "heron", "-w", finished.root)
    assert (code, "Nothing was erased" in line) == (2, True)
    monkeypatch.setattr(sys, "stdin", io.StringIO("heron\n"))
    code, out, _ = typed(capsys, "player", "erase", "heron", "-w", finished.root)
    assert (code, "rows and lines of" in out) == (0, True)


def test_a_player_is_exported(finished: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = typed(capsys, "player", "export", "heron", "--to", tmp_path / "out", "-w", finished.root)
    assert (code, out) == (0, f"{tmp_path / 'out'}\n")
    assert (tmp_path / "out" / "player.json").exists()


RAISE = """
insert into flag by name
select '2abc3def' as flag_id, 'heron' as player_id, 'speed_fall' as kind, 'alert' as level, 'both' as audience,
  date '2026-01-08' as raised_on, date '2026-01-08' as alerted_on, '' as closed_because, '' as led_by,
  'club_speed_mps' as metric, '' as region, 'driver' as club_group, '' as device_id, 46.0 as value, 47.5 as baseline,
  45.5 as low, 46.5 as high, 30 as n, 1.0 as strength, ['chart=6.1'] as reasons,
  ['h-0105', 'h-0107'] as sources
"""

COLUMNS = (
    *("flag_id", "player_id", "kind", "level", "raised_on", "closed_on", "metric", "region", "value", "baseline"),
    *("interval_low", "interval_high", "headline"),
)
HEADER = ",".join(COLUMNS)


@pytest.fixture
def flagged(finished: Workspace) -> Workspace:
    """A workspace in which one flag is open, written into its table by hand."""
    with open_warehouse(finished.warehouse) as con:
        con.execute("delete from flag").fetchall()
        con.execute(RAISE).fetchall()
    return finished


def test_flags_are_listed_as_table_csv_and_json(flagged: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = typed(capsys, "flags", "-w", flagged.root)
    assert (code, "2abc3def  alert  heron" in out) == (0, True)
    code, out, _ = typed(capsys, "flags", "-w", flagged.root, "--format", "csv")
    assert out.splitlines()[0] == HEADER
    assert out.splitlines()[1].startswith("2abc3def,heron,speed_fall,alert,2026-01-08,,club_speed_mps,,46.0,47.5,45.5,46.5,")
    code, out, _ = typed(capsys, "flags", "-w", flagged.root, "--format", "json")
    (row,) = json.loads(out)
    assert list(row) == HEADER.split(",")
    assert (row["closed_on"], row["value"], row["raised_on"]) == (None, 46.0, "2026-01-08")
    assert "mph" in row["headline"]


def test_flags_are_chosen_by_player_day_and_state(flagged: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    def n_listed(*words: str) -> int:
        code, out, _ = typed(capsys, "flags", "-w", flagged.root, "--format", "json", *words)
        assert code == 0
        return len(json.loads(out))

    assert n_listed("--player", "heron") == 1
    assert n_listed("--player", "wren") == 0
    assert n_listed("--since", "2026-01-08") == 1
    assert n_listed("--since", "2026-01-09") == 0
    assert n_listed("--on", "2026-01-07", "--all") == 0
    with open_warehouse(flagged.warehouse) as con:
        con.execute("update flag set closed_on = date '2026-01-10', closed_because = 'back'").fetchall()
    assert n_listed() == 0
    assert n_listed("--all") == 1


def test_no_flags_is_said_beside_an_empty_list(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    with open_warehouse(finished.warehouse) as con:
        con.execute("delete from flag").fetchall()
    assert typed(capsys, "flags", "-w", finished.root) == (0, "", "No flags.\n")
    assert typed(capsys, "flags", "-w", finished.root, "--format", "csv")[1] == HEADER + "\n"
    assert typed(capsys, "flags", "-w", finished.root, "--format", "json")[1] == "[]\n"


def test_explain_walks_to_the_files_and_lines(flagged: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = typed(capsys, "explain", "2abc3def", "-w", flagged.root)
    assert code == 0
    assert re.search(r"shots +h-0105 +driver +\d+ +shots_january.csv", out)
    assert "Opens: " in out
    settings = flagged.root / "academy.toml"
    settings.write_text(settings.read_text("utf-8").replace('language = "en"', 'language = "de"'), "utf-8")
    in_german = typed(capsys, "explain", "2abc3def", "-w", flagged.root)[1]
    assert "Beginnt: die Regelkarte der Rückgänge" in in_german
    assert not re.search(r"chart=|metric |46\b|47\.5", out)  # no code of ours, no metres a second
    assert re.search(r"Heron, the tall one: Club speed .* is down", out)


def test_a_flag_of_strokes_names_its_course_and_tells_of_today(flagged: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    with open_warehouse(flagged.warehouse) as con:
        con.execute("update flag set kind = 'strokes_worse', metric = 'strokes', value = 1.4, baseline = null").fetchall()
        con.execute("delete from flag_now").fetchall()
        con.execute("insert into flag_now by name select '2abc3def' as flag_id, date '2026-01-11' as now_on, 1.8 as now_value")
        con.execute("delete from home_course").fetchall()
        con.execute("insert into home_course by name select 'heron' as player_id, 'tree-lined' as course").fetchall()
    code, out, _ = typed(capsys, "flags", "-w", flagged.root, "--format", "json")
    headline = json.loads(out)[0]["headline"].replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert code == 0
    assert headline.startswith("The drives cost 1.4 strokes a round more than before on the tree-lined course. ")
    assert headline.endswith("That was on 8 January 2026; now it is 1.8 strokes more than before.")
    then = typed(capsys, "flags", "-w", flagged.root, "--format", "json", "--on", "2026-01-09")[1]
    assert "now it is" not in then


def test_decide_records_and_the_next_run_takes_it_in(flagged: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    words = [
        "decide",
        "2abc3def",
        "set-aside",
        "--role",
        "coach",
        "--on",
        "2026-01-09",
        "--note",
        "new shaft",
        "-w",
        flagged.root,
    ]
    code, out, err = typed(capsys, *words)
    assert (code, "speedworth run" in err) == (0, True)
    assert out.strip().startswith(str(flagged.inbox))
    assert typed(capsys, "run", "-q", "-w", flagged.root)[0] == 0
    with open_warehouse(flagged.warehouse, read_only=True) as con:
        assert con.execute("select decision, note from decision").fetchall() == [("set aside", "new shaft")]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["explain", "nosuch"], 10),
        (["decide", "nosuch", "ease", "--role", "coach"], 10),
        (["decide", "2abc3def", "nosuch", "--role", "coach"], 2),
        (["decide", "2abc3def", "ease", "--role", "nosuch"], 2),
        (["decide", "2abc3def", "ease", "--role", "coach", "--on", "2026-01-09", "--until", "2026-01-08"], 2),
        (["flags", "--player", "nobody"], 10),
        (["flags", "--since", "yesterday"], 2),
        (["flags", "--format", "xml"], 2),
        (["trial", "show", "nosuch"], 10),
        (["trial", "plan", "nobody", "--question", "wider stance"], 10),
        (["trial", "plan", "heron", "--question", "wider stance", "--arms", "normal"], 2),
        (["map", "nosuch.csv"], 5),
        (["map", str(BY_HAND / "shots_stork.csv"), "--to", "../x"], 2),
    ],
    ids=lambda value: " ".join(value)[-40:] if isinstance(value, list) else "",
)
def test_what_is_not_there_or_not_allowed(
    flagged: Workspace, capsys: pytest.CaptureFixture[str], words: list[str], code: int
) -> None:
    assert refused(capsys, *words, "-w", flagged.root)[0] == code


def test_a_trial_is_planned_declared_and_shown(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    words = [
        "trial",
        "plan",
        "heron",
        "--question",
        "wider stance",
        "--arms",
        "normal, wider",
        "--id",
        "t-wide",
        "-w",
        finished.root,
    ]
    code, out, err = typed(capsys, *words)
    assert (code, "t-wide" in err) == (0, True)
    assert "wider stance" in (finished.root / "sheets" / "t-wide.html").read_text(encoding="utf-8").lower()
    assert typed(capsys, "run", "-q", "-w", finished.root)[0] == 0
    code, out, _ = typed(capsys, "trial", "show", "t-wide", "-w", finished.root)
    assert (code, "wider stance" in out.lower()) == (0, True)


def test_a_mapping_is_drafted_and_kept(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = typed(capsys, "map", BY_HAND / "shots_stork.csv", "-w", finished.root)
    assert (code, "club_speed_mps" in out, "columns are sure" in err) == (0, True, True)
    code, out, _ = typed(capsys, "map", BY_HAND / "shots_stork.csv", "--to", "bay-3", "-w", finished.root)
    assert (code, out) == (0, f"{finished.mappings / 'bay-3.toml'}\n")
    assert refused(capsys, "map", BY_HAND / "shots_stork.csv", "--to", "bay-3", "-w", finished.root)[0] == 2


def test_the_console_script_prints_one_line_and_no_traceback(tmp_path: Path) -> None:
    command = [sys.executable, "-c", "from pipelines.cli.main import run; run()", "run", "-w", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (3, "")
    assert len(done.stderr.strip().splitlines()) == 1
