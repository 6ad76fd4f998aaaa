"""Files that arrive damaged, as files do: bad cells, a cut line, a wrong header, foreign units, a copy, a correction.

The rows of these files are taken out of the ordinary ones, so that each stands in the inbox once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

import polars as pl

from pipelines.demo.cast import CAST
from pipelines.demo.files import DemoFile, csv_bytes, native
from pipelines.demo.squad import Squad
from pipelines.demo.truth import FileTruth, RejectedRow

MPH_PER_MPS, YARD_M = 1.0 / 0.44704, 0.9144


@dataclass(frozen=True)
class Damaged:
    """The squad without the rows of damaged files, those files, and what must become of them."""

    squad: Squad
    files: tuple[DemoFile, ...] = ()
    truths: tuple[FileTruth, ...] = ()


@dataclass(frozen=True)
class _Edit:
    """One cell that is written over: line (the header is 1), column, text, and the rule that the row then breaks."""

    line: int
    column: str
    text: str
    rule: str


def _with(damaged: Damaged, file: DemoFile, truth: FileTruth, **frames: pl.DataFrame) -> Damaged:
    return Damaged(replace(damaged.squad, **frames), (*damaged.files, file), (*damaged.truths, truth))


def _edited(frame: pl.DataFrame, edits: tuple[_Edit, ...]) -> pl.DataFrame:
    text = frame.with_row_index("line", 2).with_columns(pl.exclude("line").cast(pl.String))
    for edit in edits:
        text = text.with_columns(
            pl.when(pl.col("line") == edit.line).then(pl.lit(edit.text)).otherwise(pl.col(edit.column)).alias(edit.column)
        )
    return text.drop("line")


def _rejected(edits: tuple[_Edit, ...]) -> tuple[RejectedRow, ...]:
    return tuple(RejectedRow(edit.line, edit.column, edit.rule) for edit in edits)


def _session(squad: Squad, player_id: str, from_on: date, at_least: int = 16, irons: int = 6) -> str | None:
    """The player's first session from a day on that has enough measured shots and irons among them, and is no trial."""
    own = squad.shots.filter(
        (pl.col("player_id") == player_id) & (pl.col("on") >= from_on) & pl.col("device_id").is_in(["unit-1", "unit-2"])
    )
    full = own.group_by("session_id", "on").agg(
        pl.len(), (pl.col("club") == "7-iron").sum().alias("irons"), pl.col("arm").is_not_null().any().alias("is_trial")
    )
    found = full.filter((pl.col("len") >= at_least) & (pl.col("irons") >= irons + 3) & ~pl.col("is_trial")).sort("on")
    return str(found["session_id"][0]) if found.height else None


def _taken_out(squad: Squad, session_id: str) -> tuple[pl.DataFrame, pl.DataFrame, date]:
    """Shots of the session in file form, the shots that are left, and the day."""
    own = squad.shots.filter(pl.col("session_id") == session_id)
    on: date = own["on"][0]
    return native(own, "shots"), squad.shots.filter(pl.col("session_id") != session_id), on


Change = Callable[[pl.DataFrame], tuple[bytes, FileTruth]]


def _shots_file(damaged: Damaged, player_id: str, from_on: date, name: str, change: Change) -> Damaged:
    session_id = _session(damaged.squad, player_id, from_on)
    if session_id is None:
        return damaged
    rows, left, on = _taken_out(damaged.squad, session_id)
    content, truth = change(rows)
    file_name = f"shots_{on}_{name}.csv"
    return _with(damaged, DemoFile(file_name, content, on, truth.n_rows), replace(truth, name=file_name), shots=left)


def _bad_cells(rows: pl.DataFrame) -> tuple[bytes, FileTruth]:
    text = rows.with_columns(pl.all().cast(pl.String))
    too_fast = f"{1.7 * float(text['club_speed_mps'][10]):.2f}"
    emptied = (
        _Edit(4, "club_speed_mps", "437.1", "out_of_range"),
        _Edit(6, "spin_rpm", "2500?", "not_a_number"),
    )
    edits = (
        _Edit(7, "struck_at", "after lunch", "not_an_instant"),
        _Edit(8, "club", "big one", "unknown_word"),
        _Edit(10, "shot_no", str(text["shot_no"][7]), "duplicate"),
        _Edit(12, "ball_speed_mps", too_fast, "speed_ratio"),
        _Edit(13, "player_id", "p99", "unknown_player"),
    )
    content = csv_bytes(_edited(rows, edits + emptied))
    note = "Five rows that cannot be loaded, and two that lose one bad cell."
    return content, FileTruth("", "partly", rows.height, note, _rejected(edits), emptied=_rejected(emptied))


def _cut_short(rows: pl.DataFrame) -> tuple[bytes, FileTruth]:
    lines = csv_bytes(rows).decode().splitlines()
    lines[-1] = ",".join(lines[-1].split(",")[:9])
    truth = FileTruth(
        "",
        "partly",
        rows.height,
        "Cut short in the middle of its last line.",
        (RejectedRow(rows.height + 1, "", "ragged_row"),),
    )
    return "\n".join(lines).encode(), truth


def _wrong_header(rows: pl.DataFrame) -> tuple[bytes, FileTruth]:
    content = csv_bytes(rows.rename({"player_id": "player", "struck_at": "time"}))
    return content, FileTruth("", "held", rows.height, "Two required columns have other names: column_missing.")


def _warned(rows: pl.DataFrame) -> tuple[bytes, FileTruth]:
    """Readings inside every limit that a person would still look at twice."""
    drives = rows.with_row_index("line", 2).filter((pl.col("club") == "driver") & pl.col("spin_rpm").is_not_null())
    hot_line, early_line = (int(line) for line in drives["line"].to_list()[1:3])
    hot = _Edit(hot_line, "ball_speed_mps", f"{1.52 * rows['club_speed_mps'][hot_line - 2]:.2f}", "speed_ratio_high")
    early = _Edit(early_line, "struck_at", str(rows["struck_at"][0]), "clock_jumps")
    told = (hot, early)
    truth = FileTruth("", "loaded", rows.height, "Inside every limit, and odd.", doubted=_rejected(told))
    return csv_bytes(_edited(rows, told)), truth


def _own_words(rows: pl.DataFrame) -> tuple[bytes, FileTruth]:
    words = pl.col("club").replace({"driver": "big one", "7-iron": "seven"})
    return csv_bytes(rows.with_columns(words)), FileTruth("", "held", rows.height, "Clubs in the player's own words: mostly_bad.")


def _other_units(rows: pl.DataFrame) -> tuple[bytes, FileTruth]:
    """Irons only, in miles an hour and yards: every value lies within its limits, and the whole file is wrong."""
    irons = rows.filter((pl.col("club") == "7-iron") & (pl.col("counts"))).with_columns(
        (pl.col("club_speed_mps", "ball_speed_mps") * MPH_PER_MPS).round(1),
        (pl.col("carry_m", "offline_m", "apex_m") / YARD_M).round(1),
    )
    return csv_bytes(irons), FileTruth("", "held", irons.height, "In miles an hour and yards: units_look_swapped.")


def _paper_checkins(damaged: Damaged) -> Damaged:
    """Two weeks of answers, typed in from paper."""
    mine = (pl.col("player_id") == "p07") & pl.col("on").is_between(date(2025, 6, 2), date(2025, 6, 15))
    squad = damaged.squad
    rows = native(squad.checkins.filter(mine), "checkins")
    if rows.height < 8:
        return damaged
    edits = (_Edit(5, "date", "2025-06-31", "not_a_day"),)
    emptied = (_Edit(3, "fatigue", "11", "out_of_range"), _Edit(7, "sleep_h", "seven", "not_a_number"))
    name = "checkins_2025-06-15_from-paper.csv"
    truth = FileTruth(name, "partly", rows.height, "Three slips of the pen.", _rejected(edits), emptied=_rejected(emptied))
    file = DemoFile(name, csv_bytes(_edited(rows, edits + emptied)), date(2025, 6, 16), rows.height)
    return _with(damaged, file, truth, checkins=squad.checkins.filter(~mine))


def _scorecards(damaged: Damaged) -> Damaged:
    mine = (pl.col("player_id") == "p03") & pl.col("on").is_between(date(2025, 8, 1), date(2025, 8, 31))
    squad = damaged.squad
    rows = native(squad.rounds.filter(mine), "rounds")
    if rows.height < 3:
        return damaged
    edits = (_Edit(3, "fairways", str(rows["tee_shots"][1] + 1), "more_fairways_than_tee_shots"),)
    name = "rounds_2025-08_scorecards.csv"
    truth = FileTruth(name, "partly", rows.height, "More fairways than tee shots on one card.", _rejected(edits))
    file = DemoFile(name, csv_bytes(_edited(rows, edits)), date(2025, 9, 1), rows.height)
    return _with(damaged, file, truth, rounds=squad.rounds.filter(~mine))


def _correction(damaged: Damaged) -> Damaged:
    """A session whose swings were typed with a nought too many, and the file that puts it right a week later."""
    squad = damaged.squad
    mine = (pl.col("player_id") == "p03") & (pl.col("kind") == "range") & (pl.col("on") >= date(2026, 3, 9))
    own = squad.sessions.filter(mine & (pl.col("swings_full") > 60)).sort("on")
    if not own.height:
        return damaged
    session_id, on = own["session_id"][0], own["on"][0]
    right = native(own.head(1), "sessions")
    slip = pl.when(pl.col("session_id") == session_id).then(10 * pl.col("swings_full")).otherwise(pl.col("swings_full"))
    name = f"sessions_{on}_corrected.csv"
    truth = FileTruth(name, "corrects", 1, f"Session {session_id} had ten times too many full swings.")
    file = DemoFile(name, csv_bytes(right), on + timedelta(days=8), 1)
    return _with(damaged, file, truth, sessions=squad.sessions.with_columns(slip.alias("swings_full")))


def _strangers(damaged: Damaged) -> Damaged:
    """Files that hold nothing of use."""
    header = csv_bytes(native(damaged.squad.shots.head(0), "shots"))
    strangers = (
        (date(2024, 11, 30), "shots_2024-11-30_empty.csv", b"", "Nothing in it: empty_file."),
        (date(2025, 12, 12), "shots_2025-12-12_header-only.csv", header, "A header and no rows: no_rows."),
        (date(2025, 5, 20), "whiteboard_2025-05-20.csv", b"who,what\nall,more putting\n", "No kind that is known: unknown_kind."),
    )
    for on, name, content, note in strangers:
        n_rows = max(content.count(b"\n") - 1, 0)
        damaged = _with(damaged, DemoFile(name, content, on, n_rows), FileTruth(name, "held", n_rows, note))
    return damaged


def damaged(squad: Squad, until_on: date) -> Damaged:
    """The files that are damaged on purpose, as far as a day, and the squad without their rows."""
    result = Damaged(squad)
    for player_id, from_on, name, change in (
        ("p02", date(2024, 5, 13), "bad-cells", _bad_cells),
        ("p07", date(2024, 8, 19), "cut-short", _cut_short),
        ("p05", date(2025, 2, 3), "other-header", _wrong_header),
        ("p10", date(2025, 3, 10), "odd-readings", _warned),
        ("p07", date(2025, 9, 8), "own-words", _own_words),
        ("p13", date(2025, 11, 3), "other-units", _other_units),
    ):
        result = _shots_file(result, player_id, from_on, name, change)
    for step in (_paper_checkins, _scorecards, _correction, _strangers):
        result = step(result)
    here = {file.name for file in result.files if file.modified_on <= until_on}
    return Damaged(
        result.squad,
        tuple(file for file in result.files if file.name in here),
        tuple(truth for truth in result.truths if truth.name in here),
    )


def oddly_saved(files: list[DemoFile]) -> tuple[list[DemoFile], tuple[FileTruth, ...]]:
    """The files with one that a spreadsheet has saved in its own way, and one that was dropped twice under two names."""
    by_name = {file.name: file for file in files}
    truths = []
    saved, copied = by_name.get("checkins_2025-W20.csv"), by_name.get("checkins_2024-W30.csv")
    if saved is not None:
        content = b"\xef\xbb\xbf" + saved.content.replace(b"\n", b"\r\n") + b"\r\n"
        by_name[saved.name] = replace(saved, content=content)
        truths.append(FileTruth(saved.name, "loaded", saved.n_rows, "With a byte-order mark, CRLF and an empty last line."))
    if copied is not None:
        name = "checkins_2024-W30_copy.csv"
        by_name[name] = replace(copied, name=name, modified_on=copied.modified_on + timedelta(days=2))
        truths.append(FileTruth(name, "duplicate", copied.n_rows, f"The same bytes as {copied.name}: changes nothing."))
    truths += [_without_consent(file) for file in by_name.values() if file.name == "checkins_2026-W24.csv"]
    return list(by_name.values()), tuple(truth for truth in truths if truth.outcome != "partly" or truth.rejected)


def _without_consent(file: DemoFile) -> FileTruth:
    """What must be left out of a file of check-ins: answers of players who do not want them kept."""
    refused = tuple(player.player_id.encode() + b"," for player in CAST if not player.consent)
    lines = [number for number, line in enumerate(file.content.splitlines(), start=1) if line.startswith(refused)]
    rejected = tuple(RejectedRow(line, "player_id", "no_health_consent") for line in lines)
    return FileTruth(file.name, "partly", file.n_rows, "Answers of a player who did not agree to their being kept.", rejected)
