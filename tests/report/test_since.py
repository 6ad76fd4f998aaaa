"""What is said of a return to normal: sentence, table, session by session; nothing of its reason."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from reports.findings.since import earlier_sentence, own_return_sentence, return_cells, return_sentence, session_cell
from reports.numbers import Numbers
from reports.words import words
from schemas.academy import Units

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


def test_the_player_is_told_only_of_a_speed_that_is_back(numbers: Numbers) -> None:
    spoken = numbers.words
    assert own_return_sentence([row(**BACK)], spoken) == "Your club speed is back where it was before your break."
    assert own_return_sentence([row(cause="equipment", **BACK)], spoken).startswith(
        "Your club speed is where it was before 2 Mar"
    )
    assert own_return_sentence([row(), row("aim_deg", **BACK)], spoken) == ""
    assert own_return_sentence([], spoken) == ""
