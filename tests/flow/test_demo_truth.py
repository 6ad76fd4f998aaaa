"""The invented academy, taken through everything, against the truth that lies beside its files."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, NamedTuple

import polars as pl
import pytest

from pipelines.demo import DemoTruth, write_academy
from pipelines.demo.stories import DECOYS, QUIET_PLAYERS, STORIES
from pipelines.demo.trials import TRIALS, Trial
from pipelines.demo.truth import Decoy, Story
from pipelines.runs import Night, run_night, take_in_waiting
from pipelines.workspace import Workspace, create_workspace
from reports.words import words
from tests.broad import BROAD
from tests.report.said import Compared, compared, site_pages
from tests.report.said_elsewhere import Site, compared_elsewhere, of_compare, of_findings, of_physio, of_trials, site_of
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from collections.abc import Callable

    from reports.words import Words
    from schemas.results import NightOutcome

pytestmark = BROAD

MOST_UNTRUE_ALERTS_A_PLAYER_MONTH = 0.03
PERSONAL_DECOYS = [decoy for decoy in DECOYS if decoy.player_id]


class Academy(NamedTuple):
    truth: DemoTruth
    night: Night
    outcome: NightOutcome
    flags: pl.DataFrame
    problems: pl.DataFrame


@pytest.fixture(scope="module")
def academy(tmp_path_factory: pytest.TempPathFactory) -> Academy:
    workspace = Workspace(tmp_path_factory.mktemp("demo") / "academy")
    create_workspace(workspace.root)
    truth = write_academy(workspace.root)
    night = Night(workspace, datetime(2026, 10, 1, 4, tzinfo=UTC))
    outcome = run_night(night)
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        flags = frame(con, "select * from flag order by raised_on, flag_id")
        problems = frame(con, "select file.name, problem.* from problem join file using (file_id)")
    return Academy(truth, night, outcome, flags, problems)


def test_every_file_becomes_what_the_truth_says(academy: Academy) -> None:
    outcomes = {file.name: file for file in academy.outcome.intake.files}
    told = {file.name: file for file in academy.truth.files}
    for name, file in outcomes.items():
        expected = told.get(name)
        assert file.n_rows == file.n_loaded + file.n_quarantined
        if expected is None or expected.outcome in {"loaded", "mapped", "corrects"}:
            assert (file.status, file.n_quarantined) == ("loaded", 0), name
        elif expected.outcome == "held":
            assert file.status == "held", name
            assert file.reason in expected.note, name
        elif expected.outcome == "partly":
            assert (file.status, file.n_quarantined) == ("loaded", len(expected.rejected)), name
    assert {name for name, file in told.items() if file.outcome != "duplicate"} <= set(outcomes)


def test_every_row_that_must_be_refused_is_refused_for_its_reason(academy: Academy) -> None:
    found = {(row["name"], row["line"], row["rule"]) for row in academy.problems.filter(severity="error").to_dicts()}
    told = {(file.name, row.line, row.rule) for file in academy.truth.files for row in file.rejected}
    assert told <= found
    damaged = {file.name for file in academy.truth.files if file.rejected}
    lines = {(name, line) for name, line, _ in found if name in damaged}
    assert lines == {(name, line) for name, line, _ in told}, "no other row of these files"


def test_bad_cells_that_nothing_depends_on_are_emptied_and_listed(academy: Academy) -> None:
    found = {
        (row["name"], row["line"], row["column"], row["rule"]) for row in academy.problems.filter(severity="emptied").to_dicts()
    }
    told = {(file.name, row.line, row.column, row.rule) for file in academy.truth.files for row in file.emptied}
    assert told
    assert told == found


def test_a_second_intake_finds_nothing_new(academy: Academy) -> None:
    assert not take_in_waiting(academy.night).changed


def test_nothing_of_the_body_is_kept_without_consent(academy: Academy) -> None:
    with open_warehouse(academy.night.workspace.warehouse, read_only=True) as con:
        for table in ("checkin", "problem_report", "absence", "mobility"):
            kept = frame(con, f"select distinct player_id from {table}")["player_id"]
            assert not set(kept) & set(academy.truth.without_consent)


def test_odd_readings_are_loaded_with_their_doubts(academy: Academy) -> None:
    found = {(row["name"], row["line"], row["rule"]) for row in academy.problems.filter(severity="warning").to_dicts()}
    told = {(file.name, row.line, row.rule) for file in academy.truth.files for row in file.doubted}
    assert told
    assert told <= found


def matching(flags: pl.DataFrame, story: Story) -> pl.DataFrame:
    found = flags.filter((pl.col("kind") == story.kind) & (pl.col("player_id") == story.player_id))
    if story.region:
        found = found.filter(pl.col("region") == story.region)
    if story.club_group:
        found = found.filter(pl.col("club_group").is_in(["", story.club_group]))
    if story.device_id:
        found = found.filter(pl.col("device_id") == story.device_id)
    return found


@pytest.mark.parametrize("story", STORIES, ids=lambda story: f"{story.player_id or story.device_id}-{story.kind}")
def test_each_story_is_found_in_time(academy: Academy, story: Story) -> None:
    found = matching(academy.flags, story).filter(pl.col("raised_on").is_between(story.onset_on, story.latest_on))
    assert found.height >= 1, matching(academy.flags, story).select("raised_on", "closed_on", "level", "metric")


@pytest.mark.parametrize("player_id", QUIET_PLAYERS)
def test_quiet_players_raise_no_alert(academy: Academy, player_id: str) -> None:
    alerts = academy.flags.filter((pl.col("player_id") == player_id) & (pl.col("level") == "alert"))
    assert alerts.is_empty(), alerts.select("kind", "raised_on", "metric", "value", "baseline")


@pytest.mark.parametrize(
    "decoy", [decoy for decoy in DECOYS if decoy.player_id], ids=lambda decoy: f"{decoy.player_id}-{decoy.what}"
)
def test_decoys_raise_no_alert(academy: Academy, decoy: Decoy) -> None:
    alerts = academy.flags.filter(
        (pl.col("player_id") == decoy.player_id)
        & pl.col("kind").is_in(decoy.silent)
        & (pl.col("level") == "alert")
        & pl.col("raised_on").is_between(decoy.from_on, decoy.until_on)
    )
    assert alerts.is_empty(), alerts.select("kind", "raised_on", "metric", "value", "baseline")


def is_true(flag: dict[str, object], truth: DemoTruth) -> bool:
    """Whether a flag tells of something that did happen."""
    raised_on = flag["raised_on"]
    assert isinstance(raised_on, date)
    told = [(story.player_id, story.kind, story.onset_on, truth.until_on) for story in truth.stories]
    told += [(item.player_id, item.kind, item.from_on, item.until_on) for item in truth.tolerated]
    return any(
        (player_id, kind) == (flag["player_id"], flag["kind"]) and first <= raised_on <= last
        for player_id, kind, first, last in told
    )


def test_few_alerts_are_untrue(academy: Academy) -> None:
    untrue = [flag for flag in academy.flags.filter(level="alert").to_dicts() if not is_true(flag, academy.truth)]
    with open_warehouse(academy.night.workspace.warehouse, read_only=True) as con:
        days = frame(con, "select sum(coalesce(left_on, date '2026-09-30') - joined_on) as days from player")["days"][0]
    a_player_month = len(untrue) / (float(days) / 30.4)
    assert a_player_month <= MOST_UNTRUE_ALERTS_A_PLAYER_MONTH, [(f["player_id"], f["kind"], f["raised_on"]) for f in untrue]


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.truth.trial_id)
def test_each_trial_gets_the_verdict_of_a_careful_reader(academy: Academy, trial: Trial) -> None:
    with open_warehouse(academy.night.workspace.warehouse, read_only=True) as con:
        found = frame(con, "select verdict from trial_result where trial_id = ?", [trial.truth.trial_id])
    assert found["verdict"].to_list() == [trial.truth.verdict]


def test_no_two_sentences_about_a_player_are_in_conflict(academy: Academy) -> None:
    told = compared(*site_pages(academy.night.workspace.root), words("en"))
    assert told.conflicts == []
    assert min(told.made[rule] for rule in ("one level", "one verdict", "then and now", "one number of strokes")) >= 20
    assert min(told.made[rule] for rule in ("verdict and interval", "change in its interval", "direction")) >= 90
    assert (
        min(told.made[rule] for rule in ("strokes of a flag today", "growth", "amount", "flat is small", "flag and level")) >= 3
    )


CONFLICTS = {
    "one level": ("coach", r" and is at \d", " and is at 3"),
    "one verdict": ("squad", r'(<br><span class="words">)(not clear yet|steady)', r"\1up"),
    "verdict and interval": ("coach", r"; the tree-lined course costs (\d)", r"; the tree-lined course saves \1"),
    "then and now": ("coach", " has gained ", " has lost "),
    "strokes of a flag today": ("coach", r"now it is \d\.\d strokes", "now it is 9.9 strokes"),
    "flag and level": ("coach", r"; now it is \d+\.\d(?!\d* strokes)", "; now it is 9.9"),
    "gain adds up": ("own", r"You have gained \d", "You have gained 9"),
    "growth": ("coach", r": a clear rise \(", ": no clear difference ("),
}


@pytest.mark.parametrize("rule", CONFLICTS)
def test_a_conflict_put_in_by_hand_is_seen(academy: Academy, rule: str) -> None:
    pages, squad = site_pages(academy.night.workspace.root)
    place, said, otherwise = CONFLICTS[rule]
    wrong_squad = re.sub(said, otherwise, squad) if place == "squad" else squad
    for who, (coach, own) in sorted(pages.items()):
        wrong = re.sub(said, otherwise, coach) if place == "coach" else coach
        wrong_own = re.sub(said, otherwise, own) if place == "own" else own
        if (wrong, wrong_own, wrong_squad) != (coach, own, squad):
            told = compared({who: (wrong, wrong_own)}, wrong_squad, words("en"))
            if any(f": {rule}: " in one for one in told.conflicts):
                return
    pytest.fail("put in, and not seen")


def test_a_named_change_that_changed_nothing_is_back_and_one_that_widened_scatter_is_not(academy: Academy) -> None:
    with open_warehouse(academy.night.workspace.warehouse, read_only=True) as con:
        rows = frame(con, "select * from session_since where club_group = 'driver' order by player_id, since_on, metric, n_since")
    now = rows.group_by("player_id", "cause", "metric", maintain_order=True).last()
    states = {(row["player_id"], row["cause"], row["metric"]): row["state"] for row in now.to_dicts()}
    assert states["p21", "equipment", "club_speed_mps"] == "back"
    assert states["p04", "technique", "scatter_side_m"] == "not_back"
    assert states["p04", "technique", "club_speed_mps"] != "not_back"
    assert states["p11", "break", "club_speed_mps"] == "back"


def test_today_physio_trials_and_comparison_are_in_conflict_with_nothing(academy: Academy) -> None:
    told = compared_elsewhere(site_of(academy.night.workspace.root), words("en"))
    assert told.conflicts == []
    assert min(told.made[rule] for rule in ("one sentence of a finding", "on the player's page too")) >= 10
    assert min(told.made[rule] for rule in ("one level", "one verdict", "coach and physio")) >= 20
    assert (
        min(told.made[rule] for rule in ("verdict of a trial and interval", "numbers of a trial", "clear in the comparison")) >= 3
    )
    assert told.made["level of the comparison"] == 1


def _everywhere(pages: dict[Any, str], said: str, otherwise: str) -> dict[Any, str]:
    return {name: re.sub(said, otherwise, page) for name, page in pages.items()}


ELSEWHERE: dict[str, tuple[Callable[[Site, Words, Compared], None], Callable[[Site], Site]]] = {
    "one sentence of a finding": (of_findings, lambda at: replace(at, today=_everywhere(at.today, r"(down|up): \d", r"\1: 3"))),
    "on the player's page too": (
        of_findings,
        lambda at: replace(at, player=_everywhere(at.player, r"finding (\w{3})", r"finding \1x")),
    ),
    "coach and physio": (of_physio, lambda at: _physio(at, r"(Steady: [^+\N{MINUS SIGN}\d]*)[^ ]* ", r"\g<1>+9.9 ")),
    "one level": (of_physio, lambda at: _physio(at, r" and is at \d", " and is at 3")),
    "one verdict of a trial": (of_trials, lambda at: replace(at, trials=at.trials.replace(">Go back<", ">Keep<"))),
    "verdict of a trial and interval": (
        of_trials,
        lambda at: replace(
            at, trials=re.sub(r'(data-label="Strokes, a round"[^>]*>[^<]*<span class="note">)\+', "\\1\N{MINUS SIGN}", at.trials)
        ),
    ),
    "numbers of a trial": (of_trials, lambda at: replace(at, trial=_everywhere(at.trial, r"costs \d", "costs 7"))),
    "clear in the comparison": (of_compare, lambda at: replace(at, compare=at.compare.replace(": clear", ": not clear"))),
    "difference of the comparison": (of_compare, lambda at: replace(at, compare=re.sub(r">\+(\d)", r">+9\1", at.compare))),
    "level of the comparison": (
        of_compare,
        lambda at: replace(at, compare=re.sub(r"(>Club speed.*?<td\b[^>]*>)\d", r"\g<1>3", at.compare, count=1, flags=re.DOTALL)),
    ),
}
"""What sees the conflict, and how it is put in."""


def _physio(at: Site, said: str, otherwise: str) -> Site:
    pages = {who: re.sub(said, otherwise, page) if who[0] == "physio" else page for who, page in at.player.items()}
    return replace(at, player=pages)


@pytest.mark.parametrize("rule", ELSEWHERE)
def test_a_conflict_elsewhere_put_in_by_hand_is_seen(academy: Academy, rule: str) -> None:
    told, (sees, put_in) = Compared(), ELSEWHERE[rule]
    sees(put_in(site_of(academy.night.workspace.root)), words("en"), told)
    assert any(f": {rule}: " in one for one in told.conflicts)
