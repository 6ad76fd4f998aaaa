"""Files as people write and correct them, taken in from start to end on a workspace."""

from __future__ import annotations

import gzip
import io
import zipfile
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from pipelines.stages.intake import Readings, check_file
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.conftest import DropFolder

SHOTS = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"


def shots(numbers: range | list[int], session: str = "S1", player: str = "P1", speed: float = 45) -> str:
    return SHOTS + "".join(f"{session},{player},{n},2026-03-14T10:{n % 60:02d}:00,driver,{speed + n / 10}\n" for n in numbers)


def test_a_file_from_a_spreadsheet_is_read_as_it_was_meant(folder: DropFolder) -> None:
    folder.people()
    text = (
        "\ufeffSession_ID , player_id,started_at,kind,note,swings_full,,\r\n"
        'A1,P1,2026-03-14T10:00:00,range,"two\r\nlines, ""quoted"" and a comma",40,,\r\n'
        "A2,P2,2026-03-14 11:30,Rest,,,,\r\n"
        ",,,,,,,\r\n"
        "\r\n"
    )
    folder.drop("sessions_march.csv", text)
    file = folder.files()["sessions_march.csv"]
    assert (file.status, file.n_rows, file.n_loaded) == ("loaded", 2, 2)
    rows = folder.rows(
        "select session_id, started_at::varchar, kind, note, line from session where session_id like 'A%' order by 1"
    ).rows()
    assert rows == [
        ("A1", "2026-03-14 09:00:00", "range", 'two\nlines, "quoted" and a comma', 2),
        ("A2", "2026-03-14 10:30:00", "rest", None, 4),
    ]


def test_the_same_bytes_twice_change_nothing(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(range(1, 6)))
    folder.run()
    before, files = folder.core(), folder.names("archive")
    folder.drop("shots_again.csv", shots(range(1, 6)))
    assert folder.files()["shots_again.csv"].status == "unchanged"
    assert (folder.core(), folder.names("archive"), folder.names("inbox")) == (before, files, [])


def test_good_rows_go_on_and_bad_rows_are_listed(folder: DropFolder) -> None:
    folder.people()
    folder.drop(
        "shots_a.csv", shots(range(1, 6)) + "S1,P1,6,2026-03-14T10:06:00,driver,fast\nS1,P1,5,2026-03-14T10:06:00,driver,44\n"
    )
    file = folder.files()["shots_a.csv"]
    assert (file.n_rows, file.n_loaded, file.n_quarantined) == (7, 5, 2)
    listed = next((folder.root / "quarantine").glob("shots_a*.problems.csv")).read_text().splitlines()
    assert listed[1].startswith("shots_a.csv,7,club_speed_mps,fast,not_a_number,")
    assert listed[2].startswith("shots_a.csv,8,shot_no,S1|5,duplicate,")
    assert next((folder.root / "quarantine").glob("*.rows.csv")).read_text().startswith(SHOTS)
    assert folder.faults() == {}


def test_corrected_rows_dropped_again_close_their_problems(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(range(1, 6)) + "S1,P1,6,2026-03-14T10:06:00,driver,fast\n")
    folder.run()
    rejected = next((folder.root / "quarantine").glob("*.rows.csv"))
    folder.drop(f"shots_{rejected.name}", rejected.read_text().replace("fast", "45.5"))
    folder.run()
    assert folder.rows("select count(*) as n from shot")["n"].item() == 6
    assert folder.rows("select closed from problem")["closed"].to_list() == [True]


def test_a_newer_file_replaces_the_session_and_keeps_where_the_older_rows_came_from(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_old.csv", shots(range(1, 11)))
    folder.drop("shots_new.csv", shots(range(1, 11), speed=46))
    assert {file.status for file in folder.run().files} == {"loaded"}
    assert folder.rows("select shot_no, club_speed_mps from shot order by 1").rows()[-1] == (10, 47.0)
    ledger = {row["name"]: row for row in folder.rows("select * from file").iter_rows(named=True)}
    assert ledger["shots_old.csv"]["status"] == "superseded"
    assert ledger["shots_old.csv"]["superseded_by"] == ledger["shots_new.csv"]["file_id"]
    assert folder.rows("select count(*) as n from superseded_row")["n"].item() == 10
    assert folder.rows("select * from problem").is_empty()
    assert (folder.root / ledger["shots_old.csv"]["kept_as"]).is_file()
    assert folder.faults() == {}


def test_an_older_file_that_comes_later_does_not_overwrite(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_new.csv", shots(range(1, 9), speed=46), clock=500)
    folder.run()
    folder.drop("shots_old.csv", shots(range(1, 11)), clock=400)
    folder.run()
    assert folder.rows("select max(shot_no) as n, max(club_speed_mps) as v from shot").row(0) == (8, 46.8)
    assert folder.faults() == {}


def test_parts_of_a_session_without_a_common_shot_stay_both(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(range(1, 6)))
    folder.drop("shots_b.csv", shots(range(6, 11)))
    folder.run()
    assert folder.rows("select count(*) as n from shot")["n"].item() == 10


def test_rows_that_came_before_their_session_are_taken_when_it_comes(folder: DropFolder) -> None:
    folder.people(sessions="S1")
    folder.drop("shots_a.csv", shots(range(1, 4)) + shots(range(1, 3), "S8").removeprefix(SHOTS))
    folder.drop("shots_b.csv", shots(range(1, 5), "S9"))
    outcome = folder.files()
    assert (outcome["shots_a.csv"].n_quarantined, outcome["shots_b.csv"].reason) == (2, "waits_for_others")
    folder.drop(
        "sessions_late.csv",
        "session_id,player_id,started_at,kind\nS8,P1,2026-03-14T10:00:00,range\nS9,P1,2026-03-14T10:00:00,range\n",
    )
    folder.run()
    assert folder.rows("select session_id, count(*) as n from shot group by 1 order by 1").rows() == [
        ("S1", 3),
        ("S8", 2),
        ("S9", 4),
    ]
    assert folder.rows("select count(*) as n from problem where not closed")["n"].item() == 0
    assert folder.names("quarantine") == []
    assert folder.faults() == {}


@pytest.mark.parametrize(
    ("name", "content", "reason"),
    [
        ("shots_a.csv", SHOTS + "".join(f"S1,P1,{n},2026-03-14T10:00,driver,{v}\n" for n, v in enumerate("xyz")), "mostly_bad"),
        ("shots_a.csv", shots([1]).replace("club,", "clubs,"), "column_missing"),
        ("shots_a.csv", shots([1]).replace(",", ";"), "column_missing"),
        ("swings.csv", shots([1]), "unknown_kind"),
        ("shots_a.csv", "", "empty_file"),
        ("shots_a.csv", SHOTS, "no_rows"),
        ("shots_a.csv", SHOTS.replace("club,", "session_id,"), "duplicate_header"),
        ("shots_a.csv", b"\x7fELF\x02\x01\x01\x00\x00\x03\x04" * 50, "not_text"),
        ("shots_a.pdf", shots([1]), "unknown_format"),
        ("device/a.csv", shots([1]), "no_mapping"),
    ],
)  # fmt: skip
def test_a_file_is_held_whole_with_what_to_do(folder: DropFolder, name: str, content: str | bytes, reason: str) -> None:
    folder.people()
    folder.drop(name, content)
    file = folder.files()[name]
    assert (file.status, file.reason, file.n_loaded, file.n_rows == file.n_quarantined) == ("held", reason, 0, True)
    problem = folder.rows("select * from problem where severity = 'held'").row(0, named=True)
    assert problem["hint"]
    assert folder.names("inbox") == []
    assert any(path.endswith(".problems.csv") for path in folder.names("quarantine"))
    assert folder.faults() == {}


def test_a_held_file_names_semicolons_when_they_are_the_reason(folder: DropFolder) -> None:
    folder.drop("shots_a.csv", shots([1]).replace(",", ";"))
    folder.run()
    assert "semicolons" in folder.rows("select hint from problem")["hint"].item()


def test_a_file_in_other_units_is_held_with_the_hint(folder: DropFolder) -> None:
    folder.people()
    header = "session_id,player_id,shot_no,struck_at,club,ball_speed_mps,carry_m\n"
    folder.drop(
        "shots_mph.csv",
        header + "".join(f"S1,P1,{n},2026-03-14T10:{n:02d}:00,driver,{84 + n / 10},{132 + n}\n" for n in range(1, 9)),
    )
    held = folder.files()["shots_mph.csv"]
    assert held.reason == "units_look_swapped"
    assert "are speeds in mph? The whole file" in held.says
    assert "mph" in folder.rows("select value from problem")["value"].item()


def test_doubts_are_kept_with_rows_that_are_loaded(folder: DropFolder) -> None:
    folder.people()
    header = "session_id,player_id,shot_no,struck_at,club,club_speed_mps,ball_speed_mps,launch_deg,carry_m,odd\n"
    folder.drop(
        "shots_a.csv",
        header
        + "S1,P1,1,2026-03-14T10:00:00,driver,45,68.5,12,230,x\n"  # ratio 1.522
        + "S1,P1,2,2026-03-14T10:01:00,driver,45,65,12,290,x\n"  # carry 4.5 m for each m/s
        + "S1,P1,3,2026-03-14T10:02:00,driver,45,65,12,215,x\n"
        + "S1,P1,4,2026-03-14T10:03:00,driver,45,65,12,215,x\n"  # the same again
        + "S1,P1,5,2026-03-14T09:00:00,driver,46,65,12,214,x\n"  # back in time
        + "S1,P1,6,2027-03-14T09:00:00,driver,47,65,12,214,x\n",  # a year away, and not yet
    )
    file = folder.files()["shots_a.csv"]
    assert (file.n_loaded, file.n_quarantined) == (6, 0)
    warned = folder.rows("select coalesce(line, 0) as line, rule from problem where severity = 'warning' order by 1, 2").rows()
    assert warned == [
        (0, "unknown_column"), (2, "speed_ratio_high"), (3, "carry_too_long"), (5, "reading_repeated"), (6, "clock_jumps"),
        (7, "clock_jumps"), (7, "in_the_future"),
    ]  # fmt: skip


def test_a_full_shot_that_hardly_spins_is_told_of_however_few_there_are(folder: DropFolder) -> None:
    folder.people()
    head = "session_id,player_id,shot_no,struck_at,club,ball_speed_mps,spin_rpm\n"
    shots = ((60, "2.650"), (61, "0"), (62, "249"), (63, "251"), (64, ""), (20, "2"))
    rows = (f"S1,P1,{at},2026-03-14T10:0{at}:00,driver,{ball},{spin}\n" for at, (ball, spin) in enumerate(shots, 1))
    folder.drop("shots_a.csv", head + "".join(rows))
    assert folder.files()["shots_a.csv"].n_loaded == 6
    told = folder.rows("select line, value from problem where rule = 'spin_too_low' order by line").rows()
    assert told == [(2, "2.65"), (3, "0.0"), (4, "249.0")]


def test_left_and_right_swapped_against_the_players_history_holds_the_file_with_a_question(folder: DropFolder) -> None:
    folder.people("P1", sessions=" ".join(f"S{n}" for n in range(1, 9)))
    header = "session_id,player_id,shot_no,struck_at,club,club_speed_mps,path_deg,offline_m,spin_axis_deg\n"

    def session(number: int, side: int) -> str:
        rows = (
            f"S{number},P1,{n},2026-03-14T10:{n:02d}:00,driver,45,{side * (4 + n % 3 / 10)},{side * (12 + n % 4)},{side * 5}\n"
            for n in range(1, 13)
        )
        return header + "".join(rows)

    for number in range(1, 7):
        folder.drop(f"shots_{number}.csv", session(number, -1))
    folder.run()
    folder.drop("shots_7.csv", session(7, 1))
    folder.drop("shots_8.csv", session(8, -1))
    files = folder.files()
    assert (files["shots_7.csv"].reason, files["shots_8.csv"].status) == ("values_look_wrong", "loaded")
    (told,) = folder.rows("select value from problem where rule = 'values_look_wrong'")["value"].to_list()
    assert "are all sides swapped?" in told


def test_times_without_an_offset_are_local_and_clock_changes_are_settled(folder: DropFolder) -> None:
    folder.people("P1", sessions="S1")
    rows = [
        "2026-10-25T02:30:00",
        "2026-10-25T02:30:00+01:00",
        "2026-03-29T02:30:00",
        "2026-07-01 08:00",
        "2026-07-01T08:00:00.250Z",
    ]
    folder.drop("shots_a.csv", SHOTS + "".join(f"S1,P1,{n},{at},driver,45\n" for n, at in enumerate(rows, 1)))
    folder.run()
    kept = folder.rows("select shot_no, struck_at::varchar as at from shot order by 1").rows()
    assert kept == [
        (1, "2026-10-25 00:30:00"),
        (2, "2026-10-25 01:30:00"),
        (4, "2026-07-01 06:00:00"),
        (5, "2026-07-01 08:00:00.25"),
    ]
    assert folder.rows("select rule from problem where severity = 'error'")["rule"].to_list() == ["time_does_not_exist"]


def test_every_format_and_archive_is_taken_in(folder: DropFolder) -> None:
    folder.people(sessions="S1 S2 S3", players="P1")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("range/shots_x.csv", shots([1], "S1"))
        archive.writestr("readme.txt", "hello")
    folder.drop("week.zip", packed.getvalue())
    folder.drop("shots_y.csv.gz", gzip.compress(shots([1], "S2").encode()))
    files = folder.files()
    assert {name: file.status for name, file in files.items() if "players" not in name and "sessions" not in name} == {
        "week.zip/range/shots_x.csv": "loaded", "week.zip/readme.txt": "held", "shots_y.csv": "loaded",
    }  # fmt: skip
    assert folder.names("inbox") == []
    assert folder.faults() == {}


def test_a_file_is_read_through_the_mapping_of_its_folder(folder: DropFolder) -> None:
    folder.people("P07", sessions="S1")
    (folder.root / "mappings" / "bay.toml").write_text(
        'kind = "shots"\ndelimiter = ";"\ndecimal = ","\nleave_out = ["x"]\n[session]\nkind = "range"\nindoors = "true"\n'
        "[file_name]\npattern = '(?P<player_id>P\\d+)_(?P<day>[-0-9]+)'\n"
        '[columns.session_id]\ntemplate = "{player_id}-{day}"\n[columns.shot_no]\nnumber_rows = true\n'
        '[columns.struck_at]\ntemplate = "{day} {Zeit}"\nformat = "%Y-%m-%d %H:%M"\n'
        '[columns.club]\nfrom = "Club"\nwords = { "Holz" = "driver" }\n[columns.ball_speed_mps]\nfrom = "v"\nunit = "km/h"\n'
    )
    folder.drop("bay/P07_2026-03-14.csv", "Zeit;Club;v;x;y\n10:00;Holz;252,0;1;2\n10:01;holz;9999;1;2\n10:02;Holz;240,5;1;2\n")
    file = folder.files()["bay/P07_2026-03-14.csv"]
    assert (file.status, file.n_loaded, file.n_quarantined) == ("loaded", 2, 1)
    row = folder.rows("select session_id, player_id, shot_no, club, ball_speed_mps, line from shot order by line").row(0)
    assert row == ("P07-2026-03-14", "P07", 1, "driver", pytest.approx(70.0), 2)
    assert folder.rows("select kind, indoors, started_at::varchar from session where session_id like 'P07%'").row(0) == (
        "range", True, "2026-03-14 09:00:00",
    )  # fmt: skip
    problem = folder.rows("select value, hint from problem where rule = 'out_of_range'").row(0, named=True)
    assert problem["value"] == "9999"
    assert "column v" in problem["hint"]
    assert folder.rows("select \"column\" from problem where rule = 'unknown_column'")["column"].to_list() == ["y"]
    folder.drop(
        "sessions_own.csv", "session_id,player_id,started_at,kind\nP07-2026-03-14,P07,2026-03-14T09:30:00,test\n", clock=-50
    )
    folder.run()
    assert folder.rows("select kind from session where session_id like 'P07%'")["kind"].to_list() == ["test"]
    assert folder.faults() == {}


def test_a_mapping_that_cannot_be_used_holds_the_file_and_names_its_line(folder: DropFolder) -> None:
    (folder.root / "mappings" / "bay.toml").write_text('kind = "shots"\n\n[columns.club_speed_mps]\nfrom = "v"\nunit = "knots"\n')
    folder.drop("bay/a.csv", "v\n1\n")
    assert folder.files()["bay/a.csv"].reason == "bad_mapping"
    assert "line 5" in folder.rows("select value from problem")["value"].item()


def test_check_changes_nothing_and_foretells(folder: DropFolder) -> None:
    folder.people()
    folder.drop("shots_a.csv", shots(range(1, 6)))
    folder.run()
    path = folder.drop("shots_b.csv", shots(range(3, 9)) + "S1,P1,9,never,driver,45\n")
    before = folder.core()
    with open_warehouse(folder.root / "academy.duckdb", read_only=True) as con:
        seen = check_file(path, Readings(folder.root / "mappings", "Europe/Berlin", con), datetime(2026, 6, 1, tzinfo=UTC))
    assert (seen.files[0].status, seen.files[0].n_loaded, seen.files[0].n_quarantined) == ("loaded", 6, 1)
    assert seen.problems["rule"].to_list() == ["not_an_instant"]
    assert seen.replaced.rows() == [("shots_b.csv", "S1", True)]
    assert path.exists()
    assert folder.core() == before


def test_order_of_arrival_does_not_matter(new_folder: Callable[[str], DropFolder]) -> None:
    one, other = new_folder("one"), new_folder("other")
    files = [
        ("shots_a.csv", shots(range(1, 6)), 10),
        ("shots_b.csv", shots(range(4, 9), speed=46), 20),
        ("shots_c.csv", shots(range(8, 12), speed=47), 30),
    ]
    for name, text, clock in files:
        one.drop(name, text, clock=clock)
    one.people()
    one.run()
    other.people()
    other.run()
    for name, text, clock in reversed(files):
        other.drop(name, text, clock=clock)
        other.run()
    one.again(accepted=True)
    other.again(accepted=True)
    assert one.core() == other.core()
    assert one.faults() == other.faults() == {}
