"""What is said of a return to normal: sentence, table, session by session; nothing of its reason."""

from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl
import pytest

from reports.findings.since import (
    cause_phrase,
    earlier_sentence,
    own_return_sentence,
    return_cells,
    return_sentence,
    session_cell,
)
from reports.numbers import Numbers
from reports.pages.context import page_context
from reports.pages.since import FRESH, fresh_return, player_sections
from reports.words import words
from schemas.academy import Academy, Units
from schemas.core.since import SESSION_SINCE

DAY = dt.date(2026, 3, 2)


def row(metric: str = "club_speed_mps", **other: Any) -> dict[str, Any]:
    told = {
        "player_id": "p1", "since_on": DAY, "club_group": "driver", "metric": metric, "n_since": 6, "cause": "break",
        "until_on": dt.date(2026, 1, 31), "session_id": "s1", "on_date": dt.date(2026, 3, 20), "value": 44.0, "n_before": 20,
        "normal": 45.0, "n_level": 5, "level": 44.1, "change": -2.0, "change_low": -2.8, "change_high": -1.2, "worthwhile": 1.0,
        "within": 0.02, "state": "not_back", "reason": "", "first_back_on": None,
    }  # fmt: skip
    return told | other


BACK = {"state": "back", "change": 0.1, "change_low": -0.6, "change_high": 0.8, "within": 0.97, "first_back_on": DAY}
OPEN = {"state": "not_clear", "within": 0.5}
NONE = {"state": None, "change": None, "change_low": None, "change_high": None, "within": None}


@pytest.fixture
def numbers() -> Numbers:
    return Numbers(words("en"), Units(speed="mph", length="yd"))


def test_what_is_not_back_is_said_first(numbers: Numbers) -> None:
    rows = [row(), row("scatter_side_m", **BACK), row("aim_deg", **OPEN)]
    assert return_sentence(rows, numbers.words) == (
        "No, after 29 days without a known session. Outside the usual band: club speed. "
        "Not clear yet: middle of the pattern. "
        "Back within the usual band: left-right scatter."
    )


def test_all_back_is_yes_and_one_not_clear_is_not_yet(numbers: Numbers) -> None:
    back = [row(cause="technique", **BACK), row("aim_deg", cause="technique", **BACK)]
    assert return_sentence(back, numbers.words).startswith("Yes, after a change of technique that was named. Back within")
    assert return_sentence([back[0], row("aim_deg", **OPEN)], numbers.words).startswith("Not shown yet,")


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("no_session", "Not measured since that day: club speed."),
        ("few_before", "Fewer than four sessions in the 12 weeks before: club speed."),
        ("few_since", "One session since, at least two are needed: club speed."),
    ],
)
def test_where_it_cannot_be_told_the_sentence_says_why(numbers: Numbers, reason: str, said: str) -> None:
    assert return_sentence([row(**NONE, reason=reason)], numbers.words).endswith(said)


def test_cells_hold_n_interval_and_band(numbers: Numbers) -> None:
    cells = [tuple(text.replace("\N{NARROW NO-BREAK SPACE}", " ") for text in cell) for cell in return_cells(row(), numbers)]
    assert cells[0] == ("Club speed", "")
    assert cells[1:3] == [("100.7 mph", "20 sessions"), ("98.6 mph", "5 sessions")]
    assert cells[3] == ("\N{MINUS SIGN}2.0 %", "\N{MINUS SIGN}2.8 % to \N{MINUS SIGN}1.2 %")
    assert [text for text, _ in cells[4:]] == ["± 1.0 %", "not back", "not yet"]
    wide = return_cells(row(metric="scatter_side_m", worthwhile=15.0), numbers)[4][0]
    assert wide.replace("\N{NARROW NO-BREAK SPACE}", " ") == "\N{MINUS SIGN}13.9 % to +16.2 %"  # exp(-.15) - 1, exp(.15) - 1
    assert return_cells(row(**BACK), numbers)[-1][0] == numbers.words.short_day(DAY)
    aim = row("aim_deg", normal=0.4, level=0.5, change=0.1, change_low=-0.3, change_high=0.5)
    assert "right" in return_cells(aim, numbers)[1][0]
    assert return_cells(row(**NONE, reason="few_since"), numbers)[3] == (numbers.bare("percent", None), "")


def test_a_session_without_comparison_shows_its_value_alone(numbers: Numbers) -> None:
    alone = session_cell(row(**NONE, reason="few_since"), numbers).replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert alone == "98.4 mph"
    assert session_cell(row(), numbers).endswith("not back)")
    assert session_cell(None, numbers) == "\N{EN DASH}"


def test_an_earlier_day_is_named(numbers: Numbers) -> None:
    day, last = numbers.words.short_day(DAY), numbers.words.short_day(dt.date(2026, 3, 20))
    said = earlier_sentence([row(**BACK)], numbers.words)
    assert said == f"{day}, after 29 days without a known session; as known on {last}: Back within the usual band: club speed."
    never = earlier_sentence([row(**NONE, reason="no_session", on_date=None)], numbers.words)
    assert f"; as known on {day}: Not measured since that day: club speed." in never


def test_the_player_is_told_only_of_a_speed_that_is_back(numbers: Numbers) -> None:
    spoken = numbers.words
    assert own_return_sentence([row(**BACK)], spoken) == "Your club speed is back where it was before your break."
    assert own_return_sentence([row(cause="equipment", **BACK)], spoken).startswith(
        "Your club speed is where it was before 2 Mar"
    )
    assert own_return_sentence([row(), row("aim_deg", **BACK)], spoken) == ""
    assert own_return_sentence([], spoken) == ""


class Player:
    """A player with these rows of the mart, seen last on a day."""

    def __init__(self, rows: list[dict[str, Any]], last_on: dt.date | None) -> None:
        frame = pl.DataFrame(rows, schema=SESSION_SINCE.polars_schema())
        self._rows = {"mart_session_since": frame.to_dicts(), "mart_player": [{"last_session_on": last_on}]}

    def listed(self, mart: str) -> list[dict[str, Any]]:
        return self._rows[mart]


def sections(player: Player, audience: str = "coach") -> list[str]:
    context = page_context(Academy("Hill", "UTC"), audience, dt.date(2026, 4, 1))  # type: ignore[arg-type]
    return [str(part.markup) for part in player_sections(player, context)]  # type: ignore[arg-type]


LAST = dt.date(2026, 3, 20)
NOW = [row(n_since=5, on_date=dt.date(2026, 3, 18), session_id="s0"), row(), row("scatter_side_m", **BACK)]
OLDER = [row(since_on=dt.date(2025, 11, 3), until_on=dt.date(2025, 10, 10), on_date=dt.date(2025, 12, 1), **BACK)]


def test_the_newest_day_is_shown_whole_and_an_earlier_one_in_a_sentence() -> None:
    (told,) = sections(Player([*NOW, *OLDER], LAST))
    assert "Back to normal since 2 Mar 2026?" in told
    assert told.count("<details") == 1
    assert "as known on 1 Dec 2025" in told
    assert "the newest session in them was on 20 Mar 2026" in told


def test_half_a_year_later_a_sentence_is_left_and_without_a_day_nothing() -> None:
    (told,) = sections(Player(NOW, LAST + dt.timedelta(days=200)))
    assert "<table" not in told
    assert "as known on 20 Mar 2026" in told
    assert sections(Player([], LAST)) == []


def test_every_reader_sees_the_same() -> None:
    assert len({told for reader in ("coach", "physio", "player") for told in sections(Player([*NOW, *OLDER], LAST), reader)}) == 1


def test_the_letter_speaks_of_the_last_twelve_weeks_only_and_of_the_driver_first() -> None:
    iron = [one | {"club_group": "iron"} for one in NOW]
    player = Player([*iron, *NOW], LAST)
    assert {one["club_group"] for one in fresh_return(player, LAST)} == {"driver"}  # type: ignore[arg-type]
    assert fresh_return(player, DAY + FRESH) == []  # type: ignore[arg-type]
    assert fresh_return(player, None) == []  # type: ignore[arg-type]


def test_days_stand_in_the_case_that_german_asks_for() -> None:
    row = {"cause": "break", "since_on": dt.date(2026, 3, 3), "until_on": dt.date(2026, 2, 10)}
    assert cause_phrase(row, words("de")) == "nach 20 Tagen ohne bekannte Einheit"
    assert cause_phrase(row, words("en")) == "after 20 days without a known session"
