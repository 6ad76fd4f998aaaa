"""Load and body on the pages: who sees what, searched by machine through every file of every folder, charts included."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
import pytest

from pipelines.stages.decide import measure_decisions
from pipelines.stages.measure.body import measure_body
from pipelines.stages.measure.flags import measure_flags
from pipelines.stages.measure.load import measure_load
from pipelines.stages.measure.overuse import measure_overuse
from pipelines.stages.measure.squad_health import measure_squad_health
from pipelines.stages.measure.summaries import measure_summaries
from reports.pages import body_map, parts, review
from reports.pages.context import page_context
from reports.single_page import single_page
from reports.site import build_site
from reports.words import NARROW_SPACE, words
from schemas.academy import Academy
from schemas.core import core_tables
from schemas.regions import REGIONS
from warehouse.connection import frame, insert_frame, open_warehouse, scalar
from warehouse.marts import PlayerMarts

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

FIRST = dt.date(2026, 1, 1)
DAYS = 120
AS_OF = FIRST + dt.timedelta(days=DAYS - 1)
PLAYERS = {"A1": True, "B2": True, "C3": False}
GROUPS = {"A1": "all; one", "B2": "all; others", "C3": "all; others"}
KEY = b"a secret of at least sixteen bytes"
STAGES = (measure_summaries, measure_load, measure_body, measure_overuse, measure_squad_health, measure_flags, measure_decisions)


@dataclass(frozen=True)
class Story:
    """What is private to player A1; everything else is the same in every story."""

    region: str
    seed: int
    note: str
    absence: str
    onset: str


BACK = Story("lower_back", 1, "quokka", "injury", "gradual")
ELBOW = Story("trail_elbow", 2, "wombat", "illness", "sudden")


def _frame(table: str, rows: list[dict[str, Any]]) -> pl.DataFrame:
    schema = core_tables()[table].polars_schema()
    return pl.DataFrame([{"file_id": "f", "line": 1} | row for row in rows], schema=schema, orient="row")


def _checkin(player: str, day: int, story: Story, rng: np.random.Generator) -> dict[str, Any]:
    stiff = {f"stiff_{region}": float(np.clip(round(rng.normal(1.5, 0.8)), 0, 10)) for region in REGIONS}
    if player == "A1" and day >= DAYS - 12:
        stiff[f"stiff_{story.region}"] += 4.0
    items = {
        name: float(np.clip(round(rng.normal(2, 0.8)), 0, 10)) for name in ("fatigue", "soreness", "stress", "sleep_trouble")
    }
    note = story.note if player == "A1" and day == DAYS - 2 else None
    on = FIRST + dt.timedelta(days=day)
    return {"player_id": player, "date": on, **items, "sleep_h": round(rng.normal(7.5, 0.5), 1), **stiff, "note": note}


def _fill(con: duckdb.DuckDBPyConnection, story: Story) -> None:
    own, other = np.random.default_rng(story.seed), np.random.default_rng(9)
    con.execute("insert into academy values ('Hill', 'UTC')").fetchall()
    players = [
        {
            "player_id": player, "alias": f"Player {player}", "birth_year": 2010, "handed": "right", "health_consent": agreed,
            "groups": GROUPS[player],
        }
        for player, agreed in PLAYERS.items()
    ]  # fmt: skip
    insert_frame(con, "player", _frame("player", players))
    load = np.random.default_rng(3)
    sessions = [
        {
            "session_id": f"{player}-{day}", "player_id": player, "kind": "rest" if day % 7 in {0, 3} else "range",
            "started_at": dt.datetime.combine(FIRST + dt.timedelta(days=day), dt.time(10)),
            "duration_min": 60.0, "effort": 5.0, "swings_full": int(load.integers(70, 110)) if day % 7 not in {0, 3} else None,
        }
        for player in PLAYERS
        for day in range(DAYS)
    ]  # fmt: skip
    insert_frame(con, "session", _frame("session", sessions))
    # C3 has not agreed: the intake would not let these rows in; they are here to try the second lock.
    checkins = [_checkin(player, day, story, own if player == "A1" else other) for player in PLAYERS for day in range(DAYS)]
    insert_frame(con, "checkin", _frame("checkin", checkins))
    forms = [
        {
            "player_id": player, "week_ending": FIRST + dt.timedelta(days=3 + 7 * week),
            "region": story.region if player == "A1" else "other",
            "participation": 1 if player == "A1" and week > 13 else 0, "modified": 2, "performance": 1, "symptoms": 1,
            "onset": story.onset, "note": f"{story.note} form" if player == "A1" else None,
        }
        for player in PLAYERS
        for week in range(DAYS // 7)
    ]  # fmt: skip
    insert_frame(con, "problem_report", _frame("problem_report", forms))
    away = {
        "player_id": "A1",
        "began_on": FIRST,
        "ended_on": FIRST + dt.timedelta(days=9),
        "kind": story.absence,
        "region": story.region,
    }
    insert_frame(con, "absence", _frame("absence", [away | {"onset": story.onset}]))
    turn = {"player_id": "A1", "date": FIRST, "test": "trunk_turn", "value_deg": 40.0 + story.seed, "side": "lead"}
    insert_frame(con, "mobility", _frame("mobility", [turn, turn | {"date": AS_OF, "value_deg": 52.0}]))


ACADEMY = Academy("Hill", "UTC")


def _site(folder: Path, story: Story, academy: Academy = ACADEMY) -> Path:
    with open_warehouse(folder / "academy.duckdb") as con:
        _fill(con, story)
        for stage in STAGES:
            stage(con, academy, AS_OF)
        _decide(con)
        build_site(con, academy, folder / "site", as_of=AS_OF, sources=(), site_key=KEY)
        assert scalar(con, "select count(*) from body_day where player_id = 'C3'") == 0
    return folder / "site"


def _decide(con: duckdb.DuckDBPyConnection) -> None:
    flag_id = scalar(
        con, "select flag_id from flag where kind = 'body_stiff' and player_id = 'A1' order by raised_on desc limit 1"
    )
    made = {"flag_id": flag_id, "decided_on": AS_OF, "role": "physio", "decision": "ease", "until": AS_OF, "note": "numbat"}
    insert_frame(con, "decision", _frame("decision", [made]))
    measure_decisions(con, ACADEMY, AS_OF)


@pytest.fixture(scope="module")
def back(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _site(tmp_path_factory.mktemp("back"), BACK)


@pytest.fixture(scope="module")
def elbow(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _site(tmp_path_factory.mktemp("elbow"), ELBOW)


def texts(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): path.read_text(encoding="utf-8") for path in sorted(folder.rglob("*")) if path.is_file()
    }


def own_folder(site: Path, alias: str) -> Path:
    return next(path.parent for path in (site / "players").glob("*/index.html") if alias in path.read_text(encoding="utf-8"))


def test_the_coachs_folder_is_the_same_whatever_the_body_says(back: Path, elbow: Path) -> None:
    """Two squads that differ in regions, answers, notes, forms, absences and decisions give the coach the same bytes."""
    assert texts(back / "coach") == texts(elbow / "coach")


def test_another_players_folder_is_the_same_whatever_the_body_says(back: Path, elbow: Path) -> None:
    for alias in ("Player B2", "Player C3"):
        assert texts(own_folder(back, alias)) == texts(own_folder(elbow, alias))


def test_the_physios_folder_tells_them_apart(back: Path, elbow: Path) -> None:
    assert texts(back / "physio") != texts(elbow / "physio")


PRIVATE = (
    *("quokka", "numbat", "stiff_", "lower back", "lower_back", "trouble sleeping", "sleep_trouble", "soreness", "checkin"),
    *("illness", "problem_report", "trunk turn", "body_stiff", "overuse"),
)


@pytest.mark.parametrize("word", PRIVATE)
def test_no_private_word_stands_in_the_folder_of_coach_or_of_one_who_has_not_agreed(back: Path, word: str) -> None:
    cautions = str(parts.cautions(words("en")))
    for folder in (back / "coach", own_folder(back, "Player C3")):
        for name, text in texts(folder).items():
            # The page on methods and the shared scripts are the same whatever the data (tested above).
            if not name.endswith("methods.html") and "assets/" not in name:
                assert word not in text.replace(cautions, ""), name


@pytest.mark.parametrize("word", ["quokka", "numbat"])
def test_a_note_reaches_the_physio_and_nobody_else(back: Path, word: str) -> None:
    found = {name.split("/")[0] for name, text in texts(back).items() if word in text}
    assert found == {"physio"}


def test_a_player_who_has_not_agreed_is_shown_nothing_of_the_body(back: Path) -> None:
    page = (back / "physio" / "players" / "C3.html").read_text(encoding="utf-8")
    assert words("en")("body.question") not in page
    assert not (back / "physio" / "review" / "C3.html").exists()


def sheet(site: Path) -> str:
    return (site / "physio" / "review" / "A1.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_sheet_names_the_lead_side_of_either_hand(side: str) -> None:
    who = {"state": "full", "lead_side": side, "birth_year": None}
    shown = review._facts(PlayerMarts("A1", {}, "physio"), who, page_context(ACADEMY, "physio", AS_OF))
    assert f"<dt>Lead side</dt><dd>{side}</dd>" in shown


def test_the_review_sheet_holds_evidence_questions_decision_and_room_to_sign(back: Path) -> None:
    text = sheet(back)
    assert "<dt>Lead side</dt><dd>left</dd>" in text
    for wanted in (
        "Stiffness of the lower back",
        "To ask",
        "lower back, and when did it begin",
        "quokka",
        "numbat",
        "Name, signature",
        "Last 14 days",
    ):
        assert wanted in text
    assert "until 30 Apr 2026" in text
    assert text.count("\N{BALLOT BOX}") == 5


def test_the_index_names_who_waits(back: Path) -> None:
    text = (back / "physio" / "review.html").read_text(encoding="utf-8")
    assert 'href="review/A1.html"' in text
    assert "B2.html" not in text.split("<main")[1].split("<footer")[0]


@pytest.mark.parametrize(
    "name", ["review.html", "review/A1.html", "body-map.html", "squad-health.html", "load.html", "players/A1.html"]
)
def test_cautions_and_the_whole_care_list_stand_on_every_page_with_load_or_body(back: Path, name: str) -> None:
    assert str(parts.cautions(words("en"))) in (back / "physio" / name).read_text(encoding="utf-8")
    if (back / "coach" / name).exists():
        assert str(parts.cautions(words("en"))) in (back / "coach" / name).read_text(encoding="utf-8")


def test_the_care_list_is_whole_in_every_language() -> None:
    # Counted against the notes that it was written from: three, four, one and two signs.
    for language in ("en", "de"):
        lengths = [len(words(language).lines(f"care.{group}.signs")) for group in ("emergency", "doctor", "young", "wrist")]
        assert lengths == [3, 4, 1, 2]


def _of(group: str, text: str) -> str:
    """What the physio's page on the squad's health says of a group; of everybody without a name."""
    blocks = re.findall(
        rf'<div data-group="{group}"(?: hidden)?>(.*?)</div>(?=<div data-group|</div></section>|<p)', text, re.DOTALL
    )
    return plain_text("".join(blocks))


def plain_text(text: str) -> str:
    return re.sub(r"<[^>]+>", " ", re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)).replace(NARROW_SPACE, " ")


def test_the_squads_health_speaks_of_each_group_alone(back: Path) -> None:
    text = (back / "physio" / "squad-health.html").read_text(encoding="utf-8")
    said = {group: _of(group, text) for group in ("", "all", "one", "others")}
    forms = {group: re.search(r"(\d of \d) who sent the form", told) for group, told in said.items()}
    assert {group: found[1] for group, found in forms.items() if found} == {
        "": "1 of 2", "all": "1 of 2", "one": "1 of 1", "others": "0 of 1"
    }  # fmt: skip
    hours = {group: re.search(r"(\d+ injury|No injury) with absence in (\d+) hours", told) for group, told in said.items()}
    assert {group: found[1] for group, found in hours.items() if found} == {
        "": "1 injury", "all": "1 injury", "one": "1 injury", "others": "No injury"
    }  # fmt: skip
    assert "Whoever is in the group today" in said["one"]
    assert "stiffness of the lower back" in said["one"].lower()
    assert "no stiffness above the own normal" in said["others"] or "stiffness of the" in said["others"].lower()
    assert "1 player has not agreed" in said["others"]
    assert "has not agreed" not in said["one"]


def test_a_page_that_is_sent_speaks_of_the_group_that_it_is_about(back: Path) -> None:
    with open_warehouse(back.parent / "academy.duckdb", read_only=True) as con:
        told = {
            group: plain_text(
                single_page(con, ACADEMY, audience="physio", path="squad-health.html", as_of=AS_OF, group=group).split("<main")[1]
            )
            for group in ("", "others")
        }
    assert "1 of 2 who sent the form" in told[""]
    assert "0 of 1 who sent the form" in told["others"]
    assert "No injury with absence" in told["others"]
    assert all(text.count("who sent the form had a problem") == 1 for text in told.values())


@pytest.mark.parametrize("table", ["prevalence_week", "burden"])
def test_a_group_of_everybody_has_the_numbers_of_everybody(back: Path, table: str) -> None:
    with open_warehouse(back.parent / "academy.duckdb", read_only=True) as con:
        rows = frame(con, f"select * from {table} order by all")
    of = {str(name): part.drop("group_name") for (name,), part in rows.group_by("group_name", maintain_order=True)}
    assert of[""].height
    assert of["all"].equals(of[""])
    assert not of["one"].equals(of[""])


def test_the_body_map_reads_without_colour(back: Path) -> None:
    text = (back / "physio" / "players" / "A1.html").read_text(encoding="utf-8")
    row = re.search(r'<th scope="row"[^>]*>lower back</th>(.*?)</tr>', text, re.DOTALL)
    assert row is not None
    cells = re.findall(r'<span class="heat[^"]*">([^<]*)(?:<b>([^<]*)</b>)?</span>', row[1])
    assert len(cells) == 12
    assert all(float(number) >= 0 for number, _ in cells)
    assert cells[0][1] == "\N{BLACK UP-POINTING TRIANGLE}"  # the newest week stands first


def test_the_coach_reads_that_the_physio_asks_and_not_why(elbow: Path) -> None:
    with_decision = (elbow / "coach" / "load.html").read_text(encoding="utf-8")
    assert "Can train" in with_decision
    assert "with changes" in with_decision
    shown = with_decision.split("<main")[1].split('class="care"')[0].lower()
    told = [
        why for why in (ELBOW.region.replace("_", " "), "elbow", "stiff", ELBOW.note, "numbat", ELBOW.absence) if why in shown
    ]
    assert told == []


@pytest.mark.parametrize("what", ["coach_sees_load", "coach_sees_availability"])
def test_the_academys_settings_close_the_coachs_view(tmp_path: Path, what: str) -> None:
    academy = replace(ACADEMY, access=replace(ACADEMY.access, **{what: False}))
    coach = texts(_site(tmp_path, BACK, academy) / "coach")
    if what == "coach_sees_load":
        assert "load.html" not in coach
        assert "Swings a day" not in coach["players/A1.html"]
        assert "usual week" not in coach["squad.html"]
        assert ">Swings" not in coach["squad.html"]
    else:
        assert "usual week" in coach["squad.html"]
        assert ">Swings" in coach["squad.html"]
        assert "Can train" not in "".join(text for name, text in coach.items() if name.endswith(".html"))


def test_german_pages_are_whole(tmp_path: Path) -> None:
    text = sheet(_site(tmp_path, BACK, replace(ACADEMY, language="de")))
    assert "Zu fragen" in text
    assert "Name, Unterschrift" in text
    assert str(parts.cautions(words("de"))) in text


def test_less_sleep_is_below_the_own_normal_and_not_above_it() -> None:
    context = page_context(ACADEMY, "physio", AS_OF)
    week = {"item": "sleep_h", "mean_answer": 5.8, "n_days_above": 3, "normal": 7.8}
    assert "5.8<b>\N{BLACK DOWN-POINTING TRIANGLE}</b>" in body_map.heat_cell(week, context).shown
    assert "\N{BLACK UP-POINTING TRIANGLE}" in body_map.heat_cell(week | {"item": "stress"}, context).shown


@pytest.mark.parametrize(
    ("above", "said"),
    [
        (("stress", "sleep_h"), "Above their own normal in the week from 28 September 2026: stress. Below it: hours slept."),
        (("stress",), "Above their own normal in the week from 28 September 2026: stress."),
        (("sleep_h",), "No answer was above their own normal in the week from 28 September 2026. Below it: hours slept."),
    ],
)
def test_less_sleep_is_said_to_be_below(above: tuple[str, ...], said: str) -> None:
    context = page_context(ACADEMY, "physio", AS_OF)
    week = {"week_starting": dt.date(2026, 9, 28), "n_answers": 4, "normal": 2.0, "n_days_above": 0}
    weeks = [week | {"item": item, "n_days_above": 2 * (item in above)} for item in ("stress", "sleep_h")]
    told = body_map._answer(weeks, lambda items: [body_map.item_name(item, context) for item in sorted(items)], context)
    assert told == said
