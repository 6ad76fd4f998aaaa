"""A player of whom no drive has come for four weeks and longer: pages say of which day the level is, and nothing of now."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import pytest

from reports.findings.ball import moved_sentence
from reports.findings.own import growth_sentence
from reports.findings.reach import reach_sentence
from reports.findings.season import own_lead
from reports.findings.trend import own_sentence, trend_sentence, verdict
from reports.numbers import Numbers
from reports.story import Story, as_in
from reports.tokens import player_token
from reports.words import words
from schemas.academy import Units
from tests.report.conftest import KEY, LAST_ON, build, insert, row
from tests.report.test_ball_findings import row as stroke_row
from tests.report.test_sentences import UP, plain, trend

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

NUMBERS = Numbers(words("en"), Units())
OLD = trend(**UP, is_past=True)
THEN = {"then_on": dt.date(2025, 9, 1), "then_level": 40.0, "change": 11.8, "lasts": True}


def test_nothing_is_said_of_the_last_four_weeks() -> None:
    assert verdict(OLD) == "past"
    assert plain(trend_sentence(OLD, NUMBERS)) == (
        "Nothing can be said of the last 28 days: they hold no session with club speed. "
        "On 15 March 2026 the level was 100.7 mph (90 % interval 99.5 to 101.8)."
    )
    assert "in four weeks" not in own_sentence(OLD, NUMBERS)
    now = OLD | {"now_low": 43.85, "now_high": 46.22}
    assert plain(trend_sentence(now, NUMBERS)).endswith(
        "99.5 to 101.8). By now it may lie anywhere from 98.1 to 103.4 mph "
        "(90 % interval, wider for every four weeks without a session)."
    )
    told = {name: OLD | {"metric": name} for name in ("club_speed_mps", "ball_speed_mps")}
    assert reach_sentence(told, NUMBERS) == "Nothing can be said of the last 28 days: the last drives are of 15 March 2026."
    story = Story(OLD, THEN, None, ())
    assert (
        plain(own_lead("Lark", story, NUMBERS))
        == "Lark, you swung the driver at 100.7 mph on 15 March 2026. No drives have come since."
    )
    assert growth_sentence(story, NUMBERS) == ""


@pytest.mark.parametrize(("days", "is_past"), [(27, False), (28, True)])
def test_another_quantity_is_of_the_past_when_it_is_so_much_older_than_the_newest_speed(days: int, is_past: bool) -> None:
    newest = Story(trend(is_past=False), None, None, ())
    assert bool(as_in(trend(on_date=LAST_ON - dt.timedelta(days=days)), newest)["is_past"]) is is_past
    assert as_in(trend(), Story(OLD, None, None, ()))["is_past"]
    assert verdict(as_in(trend(**UP), Story(None, None, None, ()))) == "up"


def test_the_months_of_the_drives_are_named() -> None:
    month, january = dt.date(2026, 4, 1), dt.date(2026, 1, 1)
    one = stroke_row("open", 0.5, month_on=month, reference_from_on=january, reference_to_on=january)
    assert "In the last three months with drives, up to April 2026 (" in moved_sentence(one, NUMBERS)
    assert " than in January 2026 (" in moved_sentence(one, NUMBERS)
    more = one | {"reference_to_on": dt.date(2026, 2, 1)}
    assert " than from January 2026 to February 2026 (" in moved_sentence(more, NUMBERS)


def test_no_page_says_now_of_a_level_of_long_ago(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    ((last,),) = con.execute("select max(on_date) from player_story where player_id = 'p1'").fetchall()
    insert(con, "load_day", [row("load_day", player_id="p2", on_date=last + dt.timedelta(days=28))])
    build(con, tmp_path / "site")
    page = (tmp_path / "site" / "coach" / "players" / "p1.html").read_text(encoding="utf-8")
    squad = (tmp_path / "site" / "coach" / "squad.html").read_text(encoding="utf-8")
    assert "no drives have come in the four weeks since, or longer" in plain(page)
    assert "Nothing can be said of the last 28 days" in plain(page)
    assert "in 28 days (90" not in plain(page).split("What lasts?")[0]
    assert "without drives in 28 days" in squad
    links = {path.parent.name: path.read_text(encoding="utf-8") for path in (tmp_path / "site" / "players").glob("*/index.html")}
    own = links[player_token("p1", KEY)]
    assert "You have made a start" not in own
    assert "no flag is open" not in own  # what only others read may be open
    assert "By now it may lie anywhere from" in plain(page)
    level_high, *now = con.execute("select level_high, now_low, now_high from mart_story where player_id = 'p1'").fetchall()[0]
    assert NUMBERS.interval("speed", *now) in squad
    assert now[1] > level_high, "without sessions the interval is wider"
