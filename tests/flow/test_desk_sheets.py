"""The coach's journey: plan, note shot by shot, the device's file comes, sheet and file side by side, labelled shots."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.cli.main import main
from pipelines.desk.sheet_log import SheetLog, as_carried_out
from pipelines.runs import Night, take_in_waiting
from pipelines.stages.player_erasure import erase_player
from pipelines.stages.trial_label import planned_lines
from pipelines.workspace import Workspace
from tests.flow.desk_visitor import fields, opened_desk, send, visitor
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    from httpx import Client

    from pipelines.desk.visit import Desk

BEGAN = datetime(2026, 1, 13, 9, tzinfo=UTC)


class Clock:
    """A clock that the test sets."""

    def __init__(self) -> None:
        self.now = BEGAN

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture(scope="module")
def planned(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace in which the coach has planned a trial at the desk, and an intake has taken the declaration in."""
    place = tmp_path_factory.mktemp("sheets") / "academy"
    shutil.copytree(rendered, place)
    desk = opened_desk(Workspace(place), lambda: BEGAN)
    with visitor(desk, "coach") as coach:
        form = {**fields(coach.get("/sheets").text, "/sheets"), "player_id": "heron", "question": "wider stance"}
        answer = coach.post("/sheets", data={**form, "arms": "normal, wider", "shots": "20"})
        assert answer.url.params["done"] == "planned"
        coach.post("/sheets", data={**form, "arms": "normal, wider", "shots": "20"})  # the phone sends again
        assert "heron-20260113" in answer.text
    assert [path.name for path in desk.workspace.inbox.glob("trials_*")] == ["trials_heron-20260113.csv"]
    (desk.workspace.inbox / "sessions_t.csv").write_text(
        "session_id,player_id,started_at,kind\nh-t,heron,2026-01-13T09:00:00Z,trial\n", encoding="utf-8"
    )
    outcome = take_in_waiting(Night(desk.workspace, BEGAN))
    assert [file.reason for file in outcome.files if file.status == "held"] == []
    return place


@pytest.fixture
def desk(planned: Path, tmp_path: Path) -> Desk:
    shutil.copytree(planned, tmp_path / "academy")
    return opened_desk(Workspace(tmp_path / "academy"), Clock())


AT = "/sheets/heron-20260113/1"


def tap(coach: Client, what: str = "struck", felt: str = "") -> str:
    answer = send(coach, AT, AT, what=what, felt=felt)
    assert answer.status_code == 200
    return answer.text


def practise(desk: Desk, coach: Client, n: int, *, void: int = 0, felt: dict[int, str] | None = None) -> None:
    for place in range(1, n + 1):
        desk.clock.now = BEGAN + timedelta(seconds=35 * place + 4)  # type: ignore[attr-defined]
        tap(coach, "void" if place == void else "struck", (felt or {}).get(place, ""))


def device_file(desk: Desk, places: list[int]) -> None:
    """What the device has read, its clock 100 s behind."""
    rows = ["session_id,player_id,shot_no,struck_at,club,club_speed_mps"]
    for number, place in enumerate(places, start=1):
        at = BEGAN + timedelta(seconds=35 * place - 100)
        rows.append(f"h-t,heron,{number},{at:%Y-%m-%dT%H:%M:%SZ},driver,{44 + place / 100:.2f}")
    (desk.workspace.inbox / "shots_t.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")


def taken_in(desk: Desk) -> pl.DataFrame:
    outcome = take_in_waiting(Night(desk.workspace, BEGAN + timedelta(hours=3)))
    assert [(file.name, file.reason) for file in outcome.files if file.status == "held"] == []
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        return frame(
            con, "select shot_no, trial_id, arm, block_no, counts, felt from shot where session_id = 'h-t' order by shot_no"
        )


def test_from_the_sheet_to_labelled_shots(desk: Desk) -> None:
    lines = planned_lines(desk.workspace.root, "heron-20260113", 1)
    with visitor(desk, "coach") as coach:
        practise(desk, coach, 30, void=12, felt={11: "late", 20: "free"})
        device_file(desk, [place for place in range(1, 31) if place != 15])  # the 15th was not read
        assert taken_in(desk)["arm"].null_count() == 29
        page = coach.get(f"{AT}/file", params={"session": "h-t"}).text
        assert "On the sheet and in the file: 29, matched by time." in page
        assert "On the sheet and not in the file: 15." in page
        assert "104\N{NARROW NO-BREAK SPACE}s behind" in page
        assert send(coach, f"{AT}/file?session=h-t", f"{AT}/label").url.params["done"] == "labelled"
    rows = taken_in(desk)
    wanted = lines.filter(pl.col("sheet_no") <= 30, pl.col("sheet_no") != 15)
    assert rows["arm"].to_list() == wanted["arm"].to_list()
    assert rows["block_no"].to_list() == wanted["block_no"].to_list()
    assert rows.filter(pl.col("felt").is_not_null())["felt"].to_list() == ["late", "free"]
    counted = [row["counts"] and row["sheet_no"] != 12 for row in wanted.to_dicts()]
    assert rows["counts"].to_list() == counted


def test_a_shot_is_taken_back_and_noted_again(desk: Desk) -> None:
    with visitor(desk, "coach") as coach:
        practise(desk, coach, 3)
        shown = coach.get(AT).text
        assert "Shot 4 of" in shown
        undo = {**dict(fields(shown.partition('name="what" value="void"')[2], AT)), "what": "undo"}
        assert "Shot 3 of" in coach.post(AT, data=undo).text
        assert "Shot 4 of" in tap(coach, "void")


def test_the_same_tap_twice_and_two_phones_note_one_shot(desk: Desk) -> None:
    with visitor(desk, "coach") as coach:
        form = {**fields(coach.get(AT).text, AT), "what": "struck"}
        other = {**fields(coach.get(AT).text, AT), "what": "void"}
        for data in (form, form, other):
            assert "Shot 2 of" in coach.post(AT, data=data).text
    log = SheetLog(desk.workspace.desk, "heron", "heron-20260113", 1)
    assert [(one.sheet_no, one.void) for one in log.noted()] == [(1, False)]


def test_half_a_line_left_by_a_crash_is_no_shot_and_harms_none(desk: Desk) -> None:
    log = SheetLog(desk.workspace.desk, "heron", "heron-20260113", 1)
    log.note("a" * 32, "struck", 1, "", BEGAN)
    (path,) = (desk.workspace.desk / "sheets").rglob("*.jsonl")
    path.write_bytes(path.read_bytes() + b'{"form_id": "bb')
    assert [one.sheet_no for one in log.noted()] == [1]
    log.note("c" * 32, "struck", 2, "", BEGAN)
    assert [one.sheet_no for one in log.noted()] == [1, 2]
    assert path.stat().st_mode & 0o077 == 0


def test_on_paper_the_sheet_goes_by_order_and_missing_shots_are_named(desk: Desk) -> None:
    n = planned_lines(desk.workspace.root, "heron-20260113", 1).height
    with visitor(desk, "coach") as coach:
        device_file(desk, [place for place in range(1, n + 1) if place != 10])
        taken_in(desk)
        page = coach.get(f"{AT}/file", params={"session": "h-t"}).text
        assert f"The sheet has {n} shots and the file {n - 1}" in page
        page = coach.get(f"{AT}/file", params={"session": "h-t", "missed": "10"}).text
        assert "matched by order" in page
        assert send(coach, f"{AT}/file?session=h-t&missed=10", f"{AT}/label").url.params["done"] == "labelled"
    assert taken_in(desk)["arm"].null_count() == 8  # the warm-up


def test_nothing_noted_means_the_sheet_as_planned(desk: Desk) -> None:
    lines = planned_lines(desk.workspace.root, "heron-20260113", 1)
    assert as_carried_out(lines, []).equals(lines)


END, RESUME = "/sheets/heron-20260113/end", "/sheets/heron-20260113/resume"


def ends(desk: Desk) -> list[tuple[object, ...]]:
    """Takes in what waits; the end of the trial, and how often it is declared."""
    outcome = take_in_waiting(Night(desk.workspace, desk.clock()))
    assert [(file.name, file.reason) for file in outcome.files if file.status == "held"] == []
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        return frame(con, "select ended_on, end_rule, sheet is not null from trial where trial_id = 'heron-20260113'").rows()


def test_a_trial_is_ended_and_taken_up_again_as_often_as_wanted(desk: Desk) -> None:
    day = BEGAN.date() + timedelta(days=2)
    with visitor(desk, "coach") as coach:
        practise(desk, coach, 1)
    desk.clock.now = BEGAN + timedelta(days=3)  # type: ignore[attr-defined]
    with visitor(desk, "coach") as coach:
        for _ in range(2):  # the second time with the very same files
            answer = send(coach, "/sheets", END, ended_on=day.isoformat(), rule="settled")
            assert "The end is handed in." in answer.text
            assert "Handed in, waiting for the next intake." in answer.text
            assert f'action="{END}"' not in answer.text
            assert ends(desk) == [(day, "settled", True)]
            desk.clock.now += timedelta(minutes=1)  # type: ignore[attr-defined]
            assert "was ended on 15 January 2026: its result was clear" in coach.get("/sheets").text
            page = coach.get(AT).text
            assert "was ended on 15 January 2026" in page
            assert 'value="struck"' not in page
            form = {**fields(page, AT), "what": "struck", "sheet_no": "2", "form_id": "d" * 32}
            assert "Shot 2" not in coach.post(AT, data=form).text
            assert "That it goes on is handed in." in send(coach, "/sheets", RESUME).text
            assert ends(desk) == [(None, None, True)]
            desk.clock.now += timedelta(minutes=1)  # type: ignore[attr-defined]
        assert "Shot 2 of" in coach.get(AT).text
    assert len(SheetLog(desk.workspace.desk, "heron", "heron-20260113", 1).noted()) == 1


@pytest.mark.parametrize(
    ("ended_on", "rule"),
    [
        ("2026-01-12", "sheet"),  # before it began
        ("2026-01-14", "sheet"),  # ahead
        ("2026-01-13", ""),
        ("2026-01-13", "<script>"),
        ("", "sheet"),
        ("9" * 5000, "sheet"),
    ],
)
def test_no_trial_ends_like_that(desk: Desk, ended_on: str, rule: str) -> None:
    with visitor(desk, "coach") as coach:
        assert send(coach, "/sheets", END, ended_on=ended_on, rule=rule).status_code == 422
        form = fields(coach.get("/sheets").text, END)
        assert coach.post(RESUME, data=form).status_code == 422  # it has not been ended
        assert coach.post("/sheets/none/end", data={**form, "ended_on": "2026-01-13", "rule": "sheet"}).status_code == 404
        assert coach.post("/sheets/none/resume", data=form).status_code == 404
    assert list(desk.workspace.inbox.glob("trials_*")) == []


def test_a_trial_is_ended_and_taken_up_again_by_command(desk: Desk) -> None:
    at = ["heron-20260113", "-q", "-w", str(desk.workspace.root)]
    assert main(["trial", "end", "--rule", "sheet", "--on", "2026-01-13", *at]) == 0
    assert ends(desk) == [(BEGAN.date(), "sheet", True)]
    assert main(["trial", "end", "--rule", "sheet", "--on", "2026-01-12", *at]) == 2
    assert main(["trial", "resume", *at]) == 0
    assert ends(desk) == [(None, None, True)]
    assert main(["trial", "resume", *at]) == 2
    assert main(["trial", "end", "none", "--rule", "sheet", *at[1:]]) == 10


REFUSED = [
    (AT, {"what": "cheer"}),
    (AT, {"what": "struck", "sheet_no": "0"}),
    (AT, {"what": "struck", "sheet_no": "9999"}),
    (AT, {"what": "struck", "sheet_no": "²"}),
    (AT, {"what": "struck", "felt": "x" * 61}),
    (AT, {"what": "struck", "form_id": "../../x"}),
    ("/sheets", {"player_id": "nobody", "question": "x", "arms": "normal, wider"}),
    ("/sheets", {"player_id": "heron", "question": "", "arms": "normal, wider"}),
    ("/sheets", {"player_id": "heron", "question": "x", "arms": "normal"}),
    ("/sheets", {"player_id": "heron", "question": "x", "arms": "normal, a|b"}),
    ("/sheets", {"player_id": "heron", "question": "x" * 201, "arms": "normal, wider"}),
    ("/sheets", {"player_id": "heron", "question": "x", "arms": "normal, wider", "shots": "-3"}),
    ("/sheets", {"player_id": "heron", "question": "x", "arms": "normal, wider", "shots": "9" * 30}),
    ("/sheets", {"player_id": "heron", "question": "x", "arms": "normal, wider", "shots": "9" * 5000}),
    ("/sheets", {"player_id": "heron", "question": "x", "arms": "normal, wider", "began_on": "9999-01-01"}),
    ("/sheets", {"player_id": "heron", "question": "x", "arms": "normal, wider", "began_on": "<script>"}),
]


@pytest.mark.parametrize(("path", "answers"), REFUSED, ids=range(len(REFUSED)))
def test_what_no_sheet_asks_for_is_refused(desk: Desk, path: str, answers: dict[str, str]) -> None:
    before = sorted(path for path in desk.workspace.root.rglob("*") if path.suffix in {".csv", ".html", ".jsonl"})
    with visitor(desk, "coach") as coach:
        assert send(coach, path, path, **answers).status_code == 422
    assert sorted(path for path in desk.workspace.root.rglob("*") if path.suffix in {".csv", ".html", ".jsonl"}) == before


@pytest.mark.parametrize(
    "path",
    [
        "/sheets/none/1",
        "/sheets/heron-20260113/99",
        "/sheets/..%2f..%2fx/1",
        "/sheets/%2e%2e/print",
        f"/sheets/heron-20260113/{'9' * 5000}",
    ],
)
def test_a_sheet_that_is_not_there(desk: Desk, path: str) -> None:
    with visitor(desk, "coach") as coach:
        assert coach.get(path).status_code == 404


def test_what_is_felt_is_shown_as_text(desk: Desk) -> None:
    with visitor(desk, "coach") as coach:
        assert "<script>" not in tap(coach, felt="<script>alert(1)</script>").partition("<main")[2]


def test_an_erased_players_sheets_go_too(desk: Desk) -> None:
    with visitor(desk, "coach") as coach:
        practise(desk, coach, 2)
    erase_player(desk.workspace, "heron", BEGAN)
    assert list((desk.workspace.root / "sheets").glob("*")) == []
    assert list((desk.workspace.desk / "sheets").rglob("*.jsonl")) == []


@pytest.mark.parametrize(("language", "told"), [("de", "Das kann kein Versuch sein."), ("en", "This cannot be a trial.")])
def test_why_it_cannot_be_a_trial_is_said_in_the_readers_language(desk: Desk, language: str, told: str) -> None:
    with visitor(desk, "coach") as coach:
        coach.get(f"/language/{language}")
        page = send(coach, "/sheets", "/sheets", player_id="heron", question="x", arms="normal").text
    assert told in page
    assert "--arms" not in page
