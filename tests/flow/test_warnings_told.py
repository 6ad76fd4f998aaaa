"""What looks odd about rows that are loaded: said where the intake was started, in a list, and on the data person's page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.flow.conftest import typed

if TYPE_CHECKING:
    import pytest

    from pipelines.workspace import Workspace

TWINS = "player_id,alias\ntwin-1,Plover\ntwin-2,plover\n"


def test_two_players_of_one_name_are_told_of_by_the_run_in_a_list_and_on_the_page(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace.inbox / "players_twins.csv").write_text(TWINS)
    code, _, told = typed(capsys, "run", "-w", workspace.root)
    assert code == 0
    line = next(line for line in told.splitlines() if line.startswith("players_twins.csv – "))
    assert "loaded, and worth a look: alias of another (2)." in line
    listed = (workspace.root / line.rpartition("List: ")[2]).read_text().splitlines()
    assert [row.split(",")[:5] for row in listed[1:]] == [
        ["players_twins.csv", "2", "alias", "Plover (twin-2)", "alias_of_another"],
        ["players_twins.csv", "3", "alias", "plover (twin-1)", "alias_of_another"],
    ]
    page = (workspace.site / "data" / "index.html").read_text()
    assert "What was loaded, and looks odd?" in page
    assert "called as another player is" in page
    assert "add an initial, or a year" in page


def test_where_nothing_looks_odd_there_is_no_list_and_no_such_part(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    for file in workspace.inbox.iterdir():
        file.unlink()
    (workspace.inbox / "players_twins.csv").write_text(TWINS.replace("plover", "Dunlin"))
    _, _, told = typed(capsys, "run", "-w", workspace.root)
    assert "worth a look" not in told
    assert not list(workspace.quarantine.iterdir())
    assert "looks odd" not in (workspace.site / "data" / "index.html").read_text()
