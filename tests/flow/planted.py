"""An academy in which one person is named in every place that files, tables and pages have; each place by a text of its own."""

from __future__ import annotations

import gzip
import io
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipelines.settings import default_settings
from pipelines.workspace import Workspace, create_workspace

if TYPE_CHECKING:
    from collections.abc import Iterator

ID, ALIAS = "golfer-a8", "Golfer, A8"
NAMES = (ID, ALIAS)
TEXTS = tuple(f"Planted{at:02d}x" for at in range(1, 29))
"""What only rows of the person hold; with both names, and what is made from them, more than thirty strings are looked for."""


def text(at: int) -> str:
    return TEXTS[at - 1]


def files() -> dict[str, str]:
    """Text files by name below the inbox, in the order in which they are dropped."""
    others = ("heron", "wren")
    return {
        "players.csv": "player_id,alias,health_consent,joined_on\n"
        f'{ID},"{ALIAS}",true,2025-01-02\nheron,Heron,true,\nwren,"Wren Golfer",true,\n',
        "sessions_old.csv": "session_id,player_id,started_at,kind,device_id,bay_id,note\n"
        f"g-1,{ID},2026-01-05T10:00,range,{text(27)},{text(28)},{text(1)}\n",
        "sessions.csv": "session_id,player_id,started_at,kind,device_id,bay_id,note\n"
        f"g-1,{ID},2026-01-05T10:00,range,{text(2)},{text(3)},{text(4)}\n"
        f'h-1,heron,2026-01-05T10:00,range,unit,b1,"played with {ALIAS} and golfer-a8, a golfer"\n'
        "w-1,wren,2026-01-06T10:00,range,unit,b1,alone\n",
        "shots.csv": "session_id,player_id,shot_no,struck_at,club,club_speed_mps,trial_id,arm\n"
        f"g-1,{ID},1,2026-01-05T10:01,driver,45.1,{text(5)},{text(6)}\n"
        f"g-1,{ID},2,2026-01-05T10:02,{text(7)},45.1,,\n"
        + "".join(f"h-1,heron,{at},2026-01-05T10:0{at},driver,44.{at},,\n" for at in range(1, 5)),
        f"checkins_{ID}.csv": "player_id,date,fatigue,note\n"
        f"{ID},2026-01-05,2,{text(8)}\n{ID},2026-01-06,3,{text(9)}\n{ID},{text(10)},3,{text(11)}\n",
        "checkins_all.csv": "player_id,date,fatigue,stiff_neck,note\n"
        f'{ID},2026-01-07,{text(12)},1,"two\nlines {text(13)}"\nheron,2026-01-07,2,1,"with {ALIAS}"\nwren,2026-01-07,2,1,\n',
        "problems.csv": "player_id,week_ending,region,participation,note\n"
        f"{ID},2026-01-11,neck,1,{text(14)}\nheron,2026-01-11,neck,0,\n",
        "absences.csv": "player_id,began_on,kind,ended_on\n"
        f"{ID},2026-01-12,injury,2026-01-14\nwren,2026-01-12,other,2026-01-13\n",
        "plans.csv": f"player_id,week_starting,phase\n{ID},2026-01-05,{text(15)}\nheron,2026-01-05,base\n",
        "trials.csv": "trial_id,player_id,question,normal_arm,arms,began_on\n"
        f"{text(5)},{ID},{text(16)},{text(17)},{text(17)} | {text(6)},2026-01-05\n"
        "T9,heron,wider,normal,normal | wider,2026-01-05\n",
        "mobility.csv": f"player_id,date,test,value_deg\n{ID},2026-01-08,trunk_turn,41\nheron,2026-01-08,trunk_turn,40\n",
        "changes.csv": f"player_id,changed_on,kind\n{ID},2026-01-07,pause\nheron,2026-01-07,other\n",
        "rounds.csv": "player_id,played_on,holes,course,event\n"
        f"{ID},2026-01-09,9,{text(18)},{text(19)}\nwren,2026-01-09,9,home,cup\n",
        "decisions_hand.csv": "flag_id,decided_on,role,decision,note,player_id,flag_kind,region,raised_on\n"
        f"aaaaaaaa,2026-01-10,physio,rest,{text(20)},{ID},body_stiff,neck,2026-01-09\n"
        f"bbbbbbbb,2026-01-10,coach,watch,seen beside {ALIAS},heron,load_jump,,2026-01-09\n",
        "rounds_bad.csv": f"player_id,played_on,holes\n{ID},{text(21)},9\n{ID},{text(22)},9\n{ID},2026-01-10,9\n",
        f"letter_{ID}.csv": f"About {ALIAS}\nseen,by\nhim,us\n",
        "plans_more.jsonl": f'{{"player_id": "{ID}", "week_starting": "2026-01-12", "phase": "{text(23)}"}}\n'
        '{"player_id": "wren", "week_starting": "2026-01-12", "phase": "base"}\n',
        f"rounds_{others[0]}.csv": f"player_id,played_on,holes,event\nheron,2026-01-10,9,cup of {ALIAS}\n",
    }


def packed() -> dict[str, bytes]:
    """Files that no text editor reads."""
    rows = pl.DataFrame({"player_id": [ID, "heron"], "week_starting": ["2026-01-19"] * 2, "phase": [text(24), f"like {ALIAS}"]})
    table, bundle = io.BytesIO(), io.BytesIO()
    rows.write_parquet(table)
    with zipfile.ZipFile(bundle, "w") as zipped:
        zipped.writestr("plans_zip.csv", f"player_id,week_starting,phase\n{ID},2026-01-26,{text(25)}\nwren,2026-01-26,base\n")
    lines = f"player_id,week_starting,phase\n{ID},2026-02-02,{text(26)}\nwren,2026-02-02,base\n"
    return {
        "plans_table.parquet": table.getvalue(),
        "plans.zip": bundle.getvalue(),
        "plans_gz.csv.gz": gzip.compress(lines.encode()),
    }


def drop_all(workspace: Workspace) -> None:
    """Drop every file; later ones are newer."""
    import os  # noqa: PLC0415 - only here

    everything = {name: told.encode() for name, told in files().items()} | packed()
    for at, (name, data) in enumerate(everything.items()):
        path = workspace.inbox / name
        path.write_bytes(data)
        os.utime(path, (1_769_000_000 + at, 1_769_000_000 + at))


def planted_academy(root: Path) -> Workspace:
    """A workspace with the files waiting, a list of names, and a store of the timetable that tells of a file."""
    made = create_workspace(root, default_settings("Hill", "Europe/Berlin"))
    (made.mappings / "names.toml").write_text(f'[players]\n"{ALIAS}" = "{ID}"\n"H. Heron" = "heron"\n', encoding="utf-8")
    (root / ".prefect").mkdir()
    with closing(sqlite3.connect(root / ".prefect" / "prefect.db")) as con:
        con.execute("create table artifact (id text, data text)")
        con.executemany("insert into artifact values (?, ?)", [("1", f'[{{"file": "checkins_{ID}.csv"}}]'), ("2", "[]")])
        con.commit()
    drop_all(made)
    return made


def _insides(path: Path) -> Iterator[bytes]:
    data = path.read_bytes()
    yield path.name.encode() + b"\n" + data
    if path.suffix == ".gz":
        yield gzip.decompress(data)
    if path.suffix == ".zip":
        with zipfile.ZipFile(path) as zipped:
            yield from (zipped.read(entry) for entry in zipped.namelist())
    if path.suffix == ".parquet":
        yield pl.read_parquet(path).write_csv().encode()


def places_naming(workspace: Workspace, *, beside: tuple[str, ...] = ("backups",)) -> dict[str, list[str]]:
    """Files below the workspace in which anything of the person stands, with what stands there; not those of the printed list."""
    wanted = [name.casefold().encode() for name in (*NAMES, *TEXTS)]
    found = {}
    for path in sorted(path for path in workspace.root.rglob("*") if path.is_file()):
        below = path.relative_to(workspace.root)
        if below.parts[0] not in beside:
            insides = [inside.lower() for inside in _insides(path)]
            told = [name.decode() for name in wanted if any(name in inside for inside in insides)]
            if told:
                found[str(below)] = told
    return found
