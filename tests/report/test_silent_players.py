"""A player of whom no drive has come for four weeks and longer: pages say of which day the level is, and nothing of now."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from reports.findings.ball import moved_sentence
from reports.findings.own import growth_sentence
from reports.findings.reach import reach_sentence
from reports.findings.season import own_lead
from reports.findings.trend import level_now_texts, level_text, own_sentence, trend_sentence, verdict
from reports.numbers import Numbers
from reports.story import Story, as_of_now
from reports.tokens import player_token
from reports.words import words
from schemas.academy import Units
from tests.report.conftest import KEY, build, insert, row
from tests.report.test_ball_findings import row as stroke_row
from tests.report.test_sentences import UP, plain, trend

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from warehouse.marts import PlayerMarts

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


def test_where_a_level_may_lie_by_now_is_told_of_every_quantity_and_to_every_reader() -> None:
    iron = OLD | {"club_group": "iron", "now_low": 43.85, "now_high": 46.22}
    assert plain(own_sentence(iron, NUMBERS)).endswith(
        "By now it may be anything from 98.1 to 103.4 mph: the longer without a session, the wider."
    )
    level, since = map(plain, level_now_texts(iron, NUMBERS))
    assert (level, since) == ("100.7 mph (90 % interval 99.5 to 101.8)", "on 15 March 2026; by now 98.1 to 103.4 mph")
    assert level_now_texts(trend(), NUMBERS) == (level_text(trend(), NUMBERS), "")
    german = Numbers(words("de"), Units())
    assert "98,1 bis 103,4" in plain(own_sentence(iron, german))
    assert "98,1 bis 103,4" in plain(level_now_texts(iron, german)[1])


@dataclass
class _Player:
    past: list[dict[str, object]]

    def listed(self, mart: str, **values: object) -> list[dict[str, object]]:
        assert mart == "mart_trend_past"
        return [one for one in self.past if one.items() >= values.items()]


def test_each_quantity_is_of_the_past_by_itself() -> None:
    past = {"club_group": "iron", "metric": "club_speed_mps", "now_low": 43.85, "now_high": 46.22}
    player = cast("PlayerMarts", _Player([past]))
    assert verdict(as_of_now(trend(**UP) | {"club_group": "driver"}, player)) == "up"
    iron = as_of_now(trend(**UP) | {"club_group": "iron"}, player)
    assert verdict(iron) == "past"
    assert (iron["now_low"], iron["now_high"]) == (43.85, 46.22)


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
    con.execute(
        "update player_story set strokes_month_on = '2026-01-01', strokes_course = 'open', strokes_change = 1.0, "
        "strokes_change_low = 0.5, strokes_change_high = 1.5, strokes_chance_cost = 0.99 where player_id = 'p1'"
    ).fetchall()
    build(con, tmp_path / "site")
    page = (tmp_path / "site" / "coach" / "players" / "p1.html").read_text(encoding="utf-8")
    squad = (tmp_path / "site" / "coach" / "squad.html").read_text(encoding="utf-8")
    assert "no drives have come in the four weeks since, or longer" in plain(page)
    assert "Nothing can be said of the last 28 days" in plain(page)
    assert "in 28 days (90" not in plain(page).split("What lasts?")[0]
    assert "without drives in 28 days" in squad
    assert "until Jan 2026" in squad, "what the drives cost is of a month that has gone"
    links = {path.parent.name: path.read_text(encoding="utf-8") for path in (tmp_path / "site" / "players").glob("*/index.html")}
    own = links[player_token("p1", KEY)]
    assert words("en")("own.good.start") not in own
    assert "no flag for" not in own  # what only others read may be open
    assert "By now it may lie anywhere from" in plain(page)
    level_high, *now = con.execute("select level_high, now_low, now_high from mart_story where player_id = 'p1'").fetchall()[0]
    assert NUMBERS.interval("speed", *now) in squad
    assert now[1] > level_high, "without sessions the interval is wider"


def test_who_does_not_practise_is_not_told_to_go_on(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    ((last,),) = con.execute("select max(on_date) from player_story where player_id = 'p1'").fetchall()
    insert(con, "load_day", [row("load_day", player_id="p2", on_date=last + dt.timedelta(days=28))])
    con.execute("delete from flag").fetchall()
    build(con, tmp_path / "site")
    own = (tmp_path / "site" / "players" / player_token("p1", KEY) / "index.html").read_text(encoding="utf-8")
    assert words("en")("own.try.nothing") not in own
    assert words("en")("own.try.start") in own


def test_who_cannot_train_is_not_sent_to_hit_balls(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    """During an absence the letter said to hit ten shots, where no flag told of the body."""
    for table in ("flag", "availability"):
        con.execute(f"delete from {table}").fetchall()
    insert(con, "availability", [row("availability", player_id="p1", state="not_available")])
    build(con, tmp_path / "site")
    own = (tmp_path / "site" / "players" / player_token("p1", KEY) / "index.html").read_text(encoding="utf-8")
    assert words("en")("own.try.body") in own
