"""Runs a night in a language that is added at run time, as DEVELOPERS.md says; run by a test.

Argument: an empty folder. Prints what was found, as JSON.
"""

from __future__ import annotations

import json
import shutil
import sys
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

from schemas import academy

academy.LANGUAGES = (*academy.LANGUAGES, "nn")  # type: ignore[assignment, misc]

from pipelines.runs import Night, run_night  # noqa: E402 - only now do settings and pages know of the language
from pipelines.workspace import create_workspace  # noqa: E402
from reports import words as texts  # noqa: E402

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def translated(folder: Path) -> None:
    """The words files and one more, where the program looks for them; each names the new language."""
    shutil.copytree(str(resources.files(texts)), folder)
    for path in folder.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace('\nen = "English"', '\nen = "English"\nnn = "Nynorsk"'), encoding="utf-8")
    own = (folder / "en.toml").read_text(encoding="utf-8").replace('title = "Today"', 'title = "I dag"')
    (folder / "nn.toml").write_text(own, encoding="utf-8")
    texts.resources = type("Files", (), {"files": staticmethod(lambda _: folder)})  # type: ignore[attr-defined]


def main(folder: Path) -> dict[str, object]:
    translated(folder / "words")
    workspace = create_workspace(folder / "lakeside")
    settings = workspace.root / "academy.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace('language = "en"', 'language = "nn"'), encoding="utf-8")
    (workspace.inbox / "players.csv").write_text("player_id,alias\nP1,Heron\n")
    (workspace.inbox / "sessions.csv").write_text("session_id,player_id,started_at,kind\nS1,P1,2026-05-30T10:00:00+00:00,range\n")
    run_night(Night(workspace, NOW))
    page = (workspace.site / "coach" / "index.html").read_text(encoding="utf-8")
    return {
        "changed": text.count('language = "en"'),
        "lang": '<html lang="nn"' in page,
        "title": "I dag" in page,
        "desk": texts.words("nn")("desk.language.nn"),
        "known": list(texts.LANGUAGES),
    }


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]))))  # noqa: T201 - the test reads it
