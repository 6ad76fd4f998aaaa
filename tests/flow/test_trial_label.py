"""A planned trial, its device file taken in without labels, and the sheet joined with it by command."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.runs import Night, take_in_waiting
from pipelines.stages.trial_label import labelled, numbers_in, planned_lines, trial_of, typed_lines
from schemas.errors import UsageError
from tests.flow.test_commands import refused, typed
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from pipelines.workspace import Workspace

BEGAN = datetime(2026, 1, 12, 15, tzinfo=UTC)


def device_file(n: int, left_out: frozenset[int] = frozenset()) -> str:
    rows = ["session_id,player_id,shot_no,struck_at,club,club_speed_mps,ball_speed_mps"]
    places = [place for place in range(1, n + 1) if place not in left_out]
    for shot_no, place in enumerate(places, start=1):
        at = BEGAN + timedelta(seconds=31 * place)
        rows.append(f"h-trial,heron,{shot_no},{at:%Y-%m-%dT%H:%M:%SZ},driver,{44 + place / 100:.2f},{64 + place / 100:.2f}")
    return "\n".join(rows) + "\n"


@pytest.fixture
def planned(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> Workspace:
    found = finished
    words = ["trial", "plan", "heron", "--question", "wider stance", "--arms", "normal, wider", "--shots", "20"]
    code, _, _ = typed(capsys, *words, "--id", "t-wide", "--began-on", "2026-01-12", "-w", found.root)
    assert code == 0
    (found.inbox / "sessions_trial.csv").write_text(
        "session_id,player_id,started_at,kind\nh-trial,heron,2026-01-12T15:00:00Z,trial\n", encoding="utf-8"
    )
    return found


def take_in(workspace: Workspace) -> pl.DataFrame:
    outcome = take_in_waiting(Night(workspace, BEGAN + timedelta(hours=5)))
    assert [(file.name, file.reason) for file in outcome.files if file.status == "held"] == []
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        return frame(con, "select * from shot where session_id = 'h-trial' order by shot_no")


def test_the_planned_sheet_labels_a_file_that_was_taken_in(planned: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = planned_lines(planned.root, "t-wide", 1)
    (planned.inbox / "shots_trial.csv").write_text(device_file(sheet.height), encoding="utf-8")
    before = take_in(planned)
    code, out, err = typed(capsys, "trial", "label", "t-wide", "shots_trial.csv", "-w", planned.root)
    assert (code, f"{sheet.height} shots are on the sheet and in the file" in err) == (0, True)
    assert (planned.inbox / "shots_t-wide_h-trial.csv").is_file()
    after = take_in(planned)
    assert after["arm"].to_list() == sheet["arm"].to_list()
    assert after["block_no"].to_list() == sheet["block_no"].to_list()
    assert after["counts"].to_list() == sheet["counts"].to_list()
    read = ["shot_no", "struck_at", "club_speed_mps", "ball_speed_mps"]
    assert after.select(read).equals(before.select(read))  # to the last digit
    assert out.strip().endswith("shots_t-wide_h-trial.csv")


def test_a_file_that_lacks_shots_is_not_labelled_by_guess(planned: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    n = planned_lines(planned.root, "t-wide", 1).height
    (planned.inbox / "shots_trial.csv").write_text(device_file(n, frozenset({9, 17})), encoding="utf-8")
    take_in(planned)
    command = ["trial", "label", "t-wide", "h-trial", "-w", planned.root]
    code, says = refused(capsys, *command)
    assert (code, f"The sheet has {n} shots and the file {n - 2}" in says) == (2, True)
    assert list(planned.inbox.glob("shots_*")) == []
    code, _, says = typed(capsys, *command, "--missed", "9, 17")
    assert (code, "On the sheet and not in the file: 9, 17." in says) == (0, True)
    rows = take_in(planned)
    wanted = planned_lines(planned.root, "t-wide", 1).filter(~pl.col("sheet_no").is_in([9, 17]))
    assert rows["arm"].to_list() == wanted["arm"].to_list()


def test_shots_against_the_order_of_time_are_told_and_wait_for_a_word(
    planned: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    n = planned_lines(planned.root, "t-wide", 1).height
    text = device_file(n).replace("heron,9,", "heron,0,").replace("heron,10,", "heron,9,").replace("heron,0,", "heron,10,")
    (planned.inbox / "shots_trial.csv").write_text(text, encoding="utf-8")
    take_in(planned)
    command = ["trial", "label", "t-wide", "h-trial", "-w", planned.root]
    code, out, says = typed(capsys, *command)
    assert (code, out, "Struck before a shot of a smaller number: 9." in says) == (2, "", True)
    assert list(planned.inbox.glob("shots_*")) == []
    assert typed(capsys, *command, "--accept")[0] == 0


def test_a_file_in_the_inbox_of_another_player_or_unknown_is_refused(
    planned: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    waiting = planned.inbox / "shots_trial.csv"
    waiting.write_text(device_file(5), encoding="utf-8")
    assert refused(capsys, "trial", "label", "t-wide", waiting, "-w", planned.root)[0] == 10  # not declared to the warehouse yet
    take_in(planned)
    again = planned.inbox / "shots_later.csv"
    again.write_text(device_file(6), encoding="utf-8")
    assert "still waits" in refused(capsys, "trial", "label", "t-wide", again, "-w", planned.root)[1]
    assert refused(capsys, "trial", "label", "t-wide", "nothing.csv", "-w", planned.root)[0] == 10
    assert refused(capsys, "trial", "label", "t-wide", "h-trial", "--day", "9", "-w", planned.root)[0] == 10


ARMS = ("normal", "a little wider")


def test_an_order_of_arms_is_typed_as_one_line() -> None:
    lines = typed_lines("2 warm-up, 2 Normal, void, normal, 2 a little wider, normal", ARMS)
    assert lines["arm"].to_list() == [
        None, None, "normal", "normal", None, "normal", "a little wider", "a little wider", "normal"
    ]  # fmt: skip
    assert lines["block_no"].to_list() == [None, None, 1, 1, None, 1, 2, 2, 3]
    assert lines["counts"].to_list() == [False, False, True, True, False, True, True, True, True]


@pytest.mark.parametrize("text", ["", "5 wide", "0 normal", "normal,,normal", "999 normal", "-2 normal"])
def test_what_is_no_order_of_arms_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        typed_lines(text, ARMS)


def test_numbers_and_ranges() -> None:
    assert numbers_in("3, 8-10") == {3, 8, 9, 10}
    assert numbers_in("") == frozenset()
    with pytest.raises(UsageError):
        numbers_in("three")


def test_a_number_that_is_not_there_is_refused() -> None:
    sheet = typed_lines("2 normal", ARMS)
    shots = pl.DataFrame({"session_id": ["s", "s"], "shot_no": [1, 2], "struck_at": [BEGAN.replace(tzinfo=None)] * 2})
    for wrong in ({"missed": frozenset({3})}, {"left_out": frozenset({7})}):
        with pytest.raises(UsageError, match="There is no"):
            labelled(shots, sheet, "t", **wrong)


def test_an_undeclared_trial_is_told(planned: Workspace) -> None:
    with open_warehouse(planned.warehouse, read_only=True) as con, pytest.raises(Exception, match="No trial t-none is declared"):
        trial_of(con, "t-none")
