"""A night on whatever little there is: nothing at all, one kind of file only, one player with one row."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, run_night
from pipelines.settings import default_settings
from pipelines.workspace import create_workspace
from tests.broad import some_of
from tests.flow.conftest import BY_HAND, NIGHT

if TYPE_CHECKING:
    from pathlib import Path

ONE_ROW_EACH = {
    "players_1.csv": "player_id,alias,health_consent\nheron,Heron,true\n",
    "sessions_1.csv": "session_id,player_id,started_at,kind\nh1,heron,2026-01-05 17:30,range\n",
    "shots_1.csv": "session_id,player_id,shot_no,struck_at,club,carry_m\nh1,heron,1,2026-01-05 17:40,driver,201\n",
    "checkins_1.csv": "player_id,date,fatigue\nheron,2026-01-05,3\n",
    "problems_1.csv": "player_id,week_ending,region,participation\nheron,2026-01-11,lower_back,1\n",
    "absences_1.csv": "player_id,began_on,kind\nheron,2026-01-10,illness\n",
    "plans_1.csv": "player_id,week_starting,phase\nheron,2026-01-05,base\n",
    "trials_1.csv": "trial_id,player_id,question,normal_arm,arms,began_on\nt1,heron,Stance,normal,normal | wider,2026-01-05\n",
    "mobility_1.csv": "player_id,date,test,value_deg\nheron,2026-01-05,trunk_turn,51\n",
    "rounds_1.csv": "player_id,played_on,strokes\nheron,2026-01-10,81\n",
}


@pytest.mark.parametrize(
    "names",
    some_of(
        [
            "",
            "players.csv",
            "players.csv checkins_week2.csv",
            "players.csv sessions_january.csv",
            "players.csv plans.csv rounds.csv",
            "shots_january.csv",
        ]
    ),
    ids=lambda names: names or "nothing",
)
def test_a_night_on_few_kinds_of_files(tmp_path: Path, names: str) -> None:
    workspace = create_workspace(tmp_path / "w", default_settings("Lakeside", "Europe/Berlin"))
    for name in names.split():
        shutil.copy(BY_HAND / name, workspace.inbox)
    run_night(Night(workspace, NIGHT))
    assert (workspace.site / "coach" / "index.html").exists()


def test_a_night_on_one_row_of_every_kind(tmp_path: Path) -> None:
    workspace = create_workspace(tmp_path / "w", default_settings("Lakeside", "Europe/Berlin"))
    for name, text in ONE_ROW_EACH.items():
        (workspace.inbox / name).write_text(text)
    outcome = run_night(Night(workspace, NIGHT))
    assert outcome.intake.n_loaded == len(ONE_ROW_EACH)
    assert outcome.site.n_written > 0
