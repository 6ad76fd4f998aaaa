"""An academy whose physio alone hands in: answers come every day, and nobody has a session."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from pipelines.runs import Night, run_night
from pipelines.settings import default_settings
from pipelines.workspace import create_workspace

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace

FIRST, N_DAYS = date(2026, 1, 5), 40
ADRIFT = "Nothing at all has come lately"


def _hand_in(workspace: Workspace) -> None:
    players = "player_id,alias,health_consent\nq2,Player 2,true\nq10,Player 10,true\n"
    (workspace.inbox / "players_1.csv").write_text(players, encoding="utf-8")
    days = [FIRST + timedelta(days=number) for number in range(N_DAYS)]
    rows = [f"{who},{day},{2 + number % 2},1" for number, day in enumerate(days) for who in ("q2", "q10")]
    text = "\n".join(["player_id,date,fatigue,stiff_lower_back", *rows])
    (workspace.inbox / "checkins_1.csv").write_text(text, encoding="utf-8")


def test_who_answers_every_day_is_not_missing(tmp_path: Path) -> None:
    """Of twelve who had answered that morning it was said that nothing has come, and 0 answers of 14 were counted."""
    workspace = create_workspace(tmp_path / "academy", default_settings("Lakeside", "Europe/Berlin"))
    _hand_in(workspace)
    run_night(Night(workspace, datetime(2026, 2, 14, 6, tzinfo=UTC)))

    def text(path: str) -> str:
        return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", (workspace.site / path).read_text(encoding="utf-8")))

    for reader in ("coach", "physio"):
        assert ADRIFT not in text(f"{reader}/index.html")
        assert text(f"{reader}/squad.html").count("14 of 14") == 2
        assert "nothing can be said of load" in text(f"{reader}/load.html")
    assert "A phase is not an experiment" not in text("coach/programme.html")
    squad = text("coach/squad.html")
    assert squad.index("Player 2") < squad.index("Player 10")
