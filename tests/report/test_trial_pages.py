"""Pages of trials: what each reader sees, in both languages; the sentences of every verdict, statement and note."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from pipelines.measures.trial.soundness import NOTES, STATEMENTS
from pipelines.measures.trial.verdict import REASONS
from pipelines.stages.measure.trials import measure_trials
from reports.findings.trials import next_steps, plain_sentence, verdict_sentence, with_end, word_key
from reports.pages import trial, trials
from reports.pages.context import page_context
from reports.words import LANGUAGES, words
from schemas.units import UNITS
from tests.warehouse.trial_world import ACADEMY, NIGHT, lay_trials
from warehouse.connection import open_warehouse
from warehouse.marts import Marts

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[duckdb.DuckDBPyConnection]:
    path: Path = tmp_path_factory.mktemp("trials") / "academy.duckdb"
    with open_warehouse(path) as con:
        lay_trials(con)
        measure_trials(con, ACADEMY, NIGHT)
        yield con


def pages_of(con, audience: str, language: str = "en") -> dict[str, object]:
    one = page_context(replace(ACADEMY, language=language), audience, NIGHT)
    found = {page.path: page for page in trials.pages(Marts(con, audience), one)}
    for player in Marts(con, audience).by_player(["p1", "p2", "p3"]).values():
        found |= {page.path: page for page in trial.player_pages(player, one)}
    return found


def test_the_list_counts_verdicts_and_links_every_trial(world):
    page = pages_of(world, "coach")["trials.html"]
    assert page.lead == "3 trials: 1 to keep, 1 to go back and 1 planned."
    assert all(f'href="trials/{name}.html"' in page.body for name in ("kept", "unnamed", "planned"))


def test_one_trial_is_said_with_its_verdict_and_a_group_without_any_as_such(world):
    rows = trials._joined_rows(Marts(world, "coach"))
    context = page_context(ACADEMY, "coach", NIGHT)
    assert trials._lead(rows.filter(trial_id="kept"), context) == "One trial: keep."
    assert trials._lead(rows.clear(), context) == "No trial of anybody in this group yet."


def test_the_page_of_a_trial_answers_in_its_first_sentence(world):
    pages = pages_of(world, "coach")
    assert pages["trials/kept.html"].lead.startswith("Keep: “wider” gains club speed, +")
    assert pages["trials/unnamed.html"].lead.startswith("Go back: “wider” costs ")
    assert pages["trials/planned.html"].lead == words("en")("trial.planned_lead")


@pytest.mark.parametrize("audience", ["coach", "physio", "player"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_reader_gets_every_page_in_every_language(world, audience, language):
    pages = pages_of(world, audience, language)
    assert {"trials/kept.html", "trials/unnamed.html", "trials/planned.html"} <= set(pages)
    assert ("trials.html" in pages) == (audience != "player")
    for page in pages.values():
        assert "None" not in page.body
        assert "nan" not in page.body.replace("span", "")


def test_the_player_reads_plain_words_and_no_test_statistics(world):
    page = pages_of(world, "player")["trials/unnamed.html"]
    assert page.lead.startswith("Go back to your normal swing.")
    assert "p-value" not in page.body
    assert "90 % interval" not in page.lead


def test_the_plan_is_drawn_for_every_arm_with_normal_beside_it(world):
    body = pages_of(world, "coach")["trials/unnamed.html"].body
    assert body.count('data-kind="trial_plan"') == 2
    assert "from above" in body
    assert "the dashed line is that of normal" in body


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_reason_statement_and_note_has_words(language):
    texts = words(language)
    for reason in REASONS:
        assert f"trial.said.{reason}" in texts
        assert f"trial.plain.{reason}" in texts
    assert all(f"trial.statement_text.{code}" in texts for code in STATEMENTS)
    assert all(f"trial.note_text.{code}" in texts for code in NOTES)


RESULT = {
    "trial_id": "t", "state": "verdict", "verdict": "keep testing", "best_arm": "wider", "normal_arm": "normal", "n_shots": 40,
    "home_course": "open", "statements": [], "notes": [], "body_side": "calm", "more_for_speed": 12, "more_for_scatter": 60,
    "value_of_more": 0.21, "speed_side": "better", "strokes_side": "open",
    "question": "", "is_declared": True, "ended_on": None, "end_rule": None,
}  # fmt: skip
ARM = {
    "arm": "wider",
    "left_right_ratio": 1.4,
    "left_right_low": 1.0,
    "left_right_high": 2.0,
    "left_right_wider": 0.7,
    "left_right_worthwhile": 1.16,
}
EFFECT = {"metric": "club_speed_mps", "mean": 0.9, "low": 0.3, "high": 1.5, "level": 45.0, "more": 0.93, "less": 0.0}
STROKES = {"mean": 0.4, "low": -0.5, "high": 1.3, "worse": 0.6, "better": 0.1}


@pytest.mark.parametrize("reason", REASONS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_a_sentence_for_every_reason_with_and_without_strokes(reason, language):
    numbers = page_context(replace(ACADEMY, language=language), "coach", NIGHT).numbers
    row = RESULT | {"reason": reason}
    for strokes in (STROKES, None):
        for sentence in (verdict_sentence, plain_sentence):
            text = sentence(row, ARM, EFFECT, strokes, numbers)
            assert text.endswith(".")
            assert "{" not in text


def test_numbers_stand_in_the_units_of_the_academy():
    numbers = page_context(ACADEMY, "coach", NIGHT).numbers
    text = verdict_sentence(RESULT | {"reason": "not_clear_yet"}, ARM, EFFECT, STROKES, numbers)
    mph = 0.9 / UNITS["mph"].factor
    assert f"+{mph:.1f}" in text
    assert "+2.0" in text  # percent of the level


def test_next_steps_say_how_many_shots_for_which_question():
    steps = next_steps(RESULT | {"reason": "not_clear_yet"}, words("en"))
    assert steps[0] == "About 12 more shots an arm settle whether the change of speed matters."
    assert steps[1].startswith("About 60 more shots an arm")
    assert "0.21 strokes" in steps[2]
    assert "worth less than 0.01" in next_steps(RESULT | {"reason": "price_unclear", "value_of_more": 0.001}, words("en"))[-1]


def test_a_statement_says_why_and_what_to_do():
    numbers = page_context(ACADEMY, "coach", NIGHT).numbers
    row = RESULT | {"state": "statement", "statements": ["devices_differ"], "verdict": None}
    text = verdict_sentence(row, None, None, None, numbers)
    assert text.startswith("No verdict: the arms were measured by different devices")
    assert next_steps(row, numbers.words)[0].startswith("Strike the trial again")


ENDED = RESULT | {"ended_on": date(2026, 1, 20), "end_rule": "sheet"}


@pytest.mark.parametrize("reason", REASONS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_a_trial_that_was_ended_while_it_had_to_be_tested_on_asks_for_no_more(reason, language):
    numbers = page_context(replace(ACADEMY, language=language), "coach", NIGHT).numbers
    open_row, ended = RESULT | {"reason": reason}, ENDED | {"reason": reason}
    if reason in {"strokes_lost", "speed_lost", "speed_gained", "strokes_gained"}:
        return  # their verdict is another
    for strokes in (STROKES, None):
        said = [sentence(ended, ARM, EFFECT, strokes, numbers) for sentence in (verdict_sentence, plain_sentence)]
        assert not any(word in text.casefold() for word in ("keep testing", "weiter testen") for text in said)
        assert said[0] != verdict_sentence(open_row, ARM, EFFECT, strokes, numbers)
        assert said[0].startswith({"en": "Ended ", "de": "Beendet"}[language])
    assert (word_key(open_row), word_key(ended)) == (
        "keep_testing", "ended_same" if reason == "no_difference" else "ended_open",
    )  # fmt: skip


def test_the_list_tells_trials_that_were_ended_before_they_could_tell_apart(world):
    con = world.cursor()
    con.execute("begin")
    con.execute(
        "update trial_result set verdict = 'keep testing', reason = 'not_clear_yet', ended_on = '2026-01-06', "
        "end_rule = 'stopped' where trial_id = 'kept'"
    ).fetchall()
    page = pages_of(con, "coach")["trials.html"]
    con.execute("rollback")
    assert page.lead == "3 trials: 1 to go back, 1 ended before it could tell and 1 planned."
    assert "<strong>Ended before it could tell</strong>" in page.body


def test_an_ended_trial_says_when_and_by_what_rule_before_its_verdict():
    assert with_end("Keep it.", RESULT, words("en")) == "Keep it."
    assert with_end("Keep it.", ENDED, words("en")) == "Ended on 20 January 2026: all shots of the sheet are struck. Keep it."
    assert with_end("Bleibt.", ENDED | {"end_rule": "stopped"}, words("de")) == (
        "Beendet am 20. Januar 2026: abgebrochen, bevor der Bogen voll war. Bleibt."
    )


@pytest.mark.parametrize(
    ("changes", "first"),
    [
        ({"verdict": "keep"}, "Make “wider” the new normal. From four weeks after the trial on"),
        ({"verdict": "go back"}, "Return to normal."),
        ({}, "It ended without a verdict to keep the change, so the normal swing (normal) stays."),
        ({"body_side": "ask"}, "Talk about load"),
        ({"state": "planned", "verdict": None}, "It ended without a verdict"),
    ],
)
def test_an_ended_trial_asks_for_no_further_shots(changes, first):
    steps = next_steps(ENDED | {"reason": "not_clear_yet"} | changes, words("en"))
    assert steps[0].startswith(first)
    assert steps[-1].startswith("Shots after 20 January 2026 do not count for this trial.")
    assert not any("more shots an arm" in step for step in steps)


@pytest.fixture
def ended_world(tmp_path):
    with open_warehouse(tmp_path / "academy.duckdb") as con:
        lay_trials(con)
        con.execute("update trial set ended_on = '2026-01-06', end_rule = 'settled' where trial_id = 'kept'").fetchall()
        measure_trials(con, ACADEMY, NIGHT)
        yield con


@pytest.mark.parametrize("audience", ["coach", "player"])
def test_pages_of_an_ended_trial_count_shots_up_to_that_day_and_say_so(ended_world, audience):
    pages = pages_of(ended_world, audience)
    assert pages["trials/kept.html"].lead.startswith("Ended on 6 January 2026: its result was clear before the sheet was full. ")
    con = ended_world
    assert con.execute("select n_days, last_on from trial_result where trial_id = 'kept'").fetchall() == [(1, date(2026, 1, 6))]
    if audience == "coach":
        assert "ended 6 Jan 2026" in pages["trials.html"].body
        assert "can look larger than it is" in pages["trials/kept.html"].body


def test_a_night_of_an_earlier_day_knows_of_no_end(ended_world):
    ended_world.execute("update trial set ended_on = '2026-01-07' where trial_id = 'kept'").fetchall()
    for night, told in ((date(2026, 1, 6), (None, None)), (date(2026, 1, 7), (date(2026, 1, 7), "settled"))):
        measure_trials(ended_world, ACADEMY, night)
        found = ended_world.execute("select ended_on, end_rule from trial_result where trial_id = 'kept'").fetchall()
        assert found == [told]
