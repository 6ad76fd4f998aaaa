"""Two seasons side by side: the values of the pages, a difference that can be checked, and its interval or why none."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from reports.findings.season import work_sentences
from reports.findings.side_by_side import MEASURES, Season, Value, difference, said, seasons
from reports.numbers import Numbers
from reports.pages.context import page_context
from reports.pages.side_table import measure_data, season_data, side_table
from reports.tokens import player_token
from reports.words import words
from schemas.academy import Units
from tests.report.conftest import KEY, academy

if TYPE_CHECKING:
    from tests.report.conftest import Built

NUMBERS = Numbers(words("en"), Units("mph", "yd"))
DAY = dt.date(2026, 9, 28)


def levels(*rows: tuple[str, int, float]) -> list[dict[str, Any]]:
    return [
        {
            "metric": metric,
            "seasons_back": back,
            "from_on": DAY - dt.timedelta(days=360 * (back + 1)),
            "on_date": DAY - dt.timedelta(days=360 * back),
            "level": level,
            "level_low": level - 0.4,
            "level_high": level + 0.4,
            "n_sessions": 30 + back,
        }
        for metric, back, level in rows
    ]


def months(*rows: tuple[dt.date, float], standard: str = "80") -> list[dict[str, Any]]:
    names = ("month_on", "per_round", "per_round_low", "per_round_high", "n_shots", "course", "standard")
    return [dict(zip(names, (day, value, value - 0.5, value + 0.5, 60, "open", standard), strict=True)) for day, value in rows]


def weeks(*rows: tuple[int, int | None, int]) -> list[dict[str, Any]]:
    day = dt.date(2026, 9, 28)
    return [
        {"week_starting": day - dt.timedelta(weeks=back), "swings_all": swings, "n_days_known": known}
        for back, swings, known in rows
    ]


NO_WEEKS = weeks()


def test_a_season_holds_the_printed_values_of_its_last_day() -> None:
    strokes = months((dt.date(2025, 9, 1), 52.0), (dt.date(2025, 10, 1), 51.0), (dt.date(2026, 9, 1), 50.04))
    swings = weeks((0, 300, 7), (1, 100, 6), (2, None, 7), (3, 900, 4), *((back, 200, 5) for back in range(4, 52)), (52, 80, 7))
    now, before = seasons(levels(("club_speed_mps", 0, 45.0), ("club_speed_mps", 1, 44.0)), strokes, swings, NUMBERS)
    assert now.values["club_speed_mps"] == Value(100.7, 99.8, 101.6, 30)
    assert (now.values["strokes"].value, before.values["strokes"].value) == (50.0, 52.0)
    assert now.values["week_swings"] == Value(200.0, None, None, 50)
    assert before.values["week_swings"] == Value(80.0, None, None, 1)
    assert "ball_speed_mps" not in now.values


def test_a_difference_is_that_of_what_is_printed() -> None:
    found = difference(Value(100.7, 99.8, 101.6, 30), Value(98.4, 97.5, 99.3, 31), 1)
    assert (found.value, found.low, found.high) == (2.3, 0.5, 4.1)
    assert found.is_clear
    assert not difference(Value(100.7, 99.8, 101.6, 30), Value(99.4, 98.5, 100.3, 31), 1).is_clear
    counted = difference(Value(200, None, None, 3), Value(80, None, None, 1), 0)
    assert (counted.value, counted.low, counted.is_clear) == (120, None, False)


@pytest.mark.parametrize("together", [-1.0, 0.0, 0.7, 1.0])
def test_its_interval_holds_whether_or_not_the_errors_go_together(together: float) -> None:
    """Two normal errors of any correlation: the 90 % intervals put together hold the difference in 90 % of cases or more."""
    one, free = np.random.default_rng(5).normal(size=(2, 20_000))
    other = 1.4 * (together * one + np.sqrt(1 - together**2) * free)
    reach = 1.645 * (1 + 1.4)
    assert np.mean(np.abs(one - other) <= reach) >= 0.895


def season(**values: Value) -> Season:
    return Season(0, DAY, DAY, values)


def test_what_is_clear_what_is_not_and_what_cannot_be_said() -> None:
    now = season(club_speed_mps=Value(100.7, 99.8, 101.6, 30), scatter_side_m=Value(15, 12, 18, 30), strokes=Value(50, 49, 51, 9))
    before = season(club_speed_mps=Value(98.4, 97.5, 99.3, 31), scatter_side_m=Value(14, 11, 17, 31))
    assert said(now, before, "open", NUMBERS) == (
        "Clearly different: club speed (+2.3\N{NARROW NO-BREAK SPACE}mph). Not clear: left-right scatter. "
        "Measured on one side only: strokes of the drives, a round of the open course."
    )
    assert said(season(), season(), "open", NUMBERS) == "Nothing was measured on both sides."


@pytest.mark.parametrize("own", [False, True])
def test_work_in_plain_words(own: bool) -> None:
    told = work_sentences(weeks((0, 300, 7), (1, 100, 6), (2, 900, 4), (60, 80, 7)), NUMBERS, own=own)
    assert len(told) == 2
    assert "200 swings a week" in told[0]
    assert "the mean of 2 of 3 weeks" in told[0]
    assert "300" in told[0]
    assert "80" in told[1]
    assert "Too few" in work_sentences(NO_WEEKS, NUMBERS, own=own)[0]


def test_the_sheet_is_there_for_coach_and_player_and_tells_nothing_of_the_body(built: Built) -> None:
    coach, own = built.text("coach/season/p1.html"), built.text(f"players/{player_token('p1', KEY)}/season.html")
    assert "Lark: twelve months on one sheet" in coach
    assert "your season on one sheet" in own
    for page in (coach, own):
        main = page.partition('<main id="content"')[2].partition("</main>")[0]
        assert not [word for word in ("stiff", "fatigue", "sore", "lower back", "sleep") if word in main]
        assert "Agreed for the next season" in main
    assert not (built.folder / "physio/season").exists()
    assert 'href="../season/p1.html"' in built.text("coach/players/p1.html")
    assert 'href="../compare.html#of-p1"' in built.text("coach/players/p1.html")


def test_the_comparison_shows_a_pair_without_a_script(built: Built) -> None:
    page = built.text("coach/compare.html")
    assert "Lark (" in page
    assert page.count('<td class="number"') >= 3
    assert "not known on both sides" in page or "clear" in page
    assert not list(built.folder.glob("physio/compare.html"))


@pytest.mark.parametrize(("days", "months_told"), [(5, 1), (40, 2), (258, 9), (270, 9), (360, 12)])
def test_a_young_player_is_told_the_months_that_there_are(days: int, months_told: int) -> None:
    (first,) = levels(("club_speed_mps", 0, 45.0))
    (only,) = seasons([first | {"from_on": DAY - dt.timedelta(days=days)}], months(), NO_WEEKS, NUMBERS)
    assert only.n_months == months_told
    first, last = only.from_on, only.to_on
    assert months_told == min(12, 12 * (last.year - first.year) + last.month - first.month + 1), "as many as its span names"


def test_a_season_lasts_from_the_first_driver_session_to_the_last_whatever_else_was_measured() -> None:
    scatter, speed = levels(("scatter_side_m", 0, 14.0), ("club_speed_mps", 0, 45.0))
    scatter |= {"from_on": DAY - dt.timedelta(days=30)}
    (only,) = seasons([scatter, speed], months(), NO_WEEKS, NUMBERS)
    assert (only.from_on, only.to_on) == (DAY - dt.timedelta(days=360), DAY)
    (only,) = seasons([scatter], months(), NO_WEEKS, NUMBERS)
    assert only.from_on == DAY - dt.timedelta(days=30)


def test_only_the_first_season_may_be_short() -> None:
    one, other = levels(("club_speed_mps", 0, 45.0), ("club_speed_mps", 1, 44.0))
    one |= {"from_on": DAY - dt.timedelta(days=100)}
    other |= {"from_on": DAY - dt.timedelta(days=455)}
    now, before = seasons([one, other], months(), NO_WEEKS, NUMBERS)
    assert (now.n_months, before.n_months) == (12, 4)  # of June to September 2025


def test_strokes_of_golfers_of_another_standard_are_not_set_against_each_other() -> None:
    """The level of strokes is that of the standard: a faster player of a weaker one would be called worse."""
    speed, month = levels(("club_speed_mps", 0, 45.0)), dt.date(2026, 9, 1)
    alike, other = (seasons(speed, months((month, 66.6), standard=one), NO_WEEKS, NUMBERS)[0] for one in ("80", "90"))
    better = seasons(speed, months((month, 60.6)), NO_WEEKS, NUMBERS)[0]
    assert "strokes of the drives, a round of the open course (+6.0" in said(alike, better, "the open course", NUMBERS)
    told = said(other, better, "the open course", NUMBERS)
    assert told.endswith(
        "Not to be compared, since counted on another course or for golfers of another standard: "
        "strokes of the drives, a round of the open course."
    )
    context = page_context(academy(), "coach", DAY)
    rows = side_table(other, better, ("A", "B"), "the open course", context).split("<tr")
    (strokes,) = [one for one in rows if "Strokes of the drives" in one]
    assert "another course or standard" in strokes
    assert "clear" not in strokes
    assert season_data(other, MEASURES, context)["values"][5][4] != season_data(better, MEASURES, context)["values"][5][4]


def test_a_mean_of_the_few_busy_weeks_that_are_known_is_no_usual_week() -> None:
    """Where days without a session have no row, only weeks with five sessions are known: every other one is left out."""
    busy = [(back, 170, 5) for back in range(0, 36, 3)]
    quiet = [(back, 60, 2) for back in range(36) if back % 3 == 1]
    assert work_sentences(weeks(*busy, *quiet), NUMBERS, own=False) == ["Too few days are known to say."]
    told = work_sentences(weeks(*[(back, 170, 5) for back in range(18)], (35, 60, 2)), NUMBERS, own=False)
    assert told[0].startswith("170 swings a week, the mean of 18 of 36 weeks; most in the week from")


def test_within_a_german_sentence_only_nouns_are_large() -> None:
    german = Numbers(words("de"), Units())
    now, before = (
        season(club_speed_mps=Value(at, at - 1, at + 1, 9), comparable_carry_m=Value(at, at - 1, at + 1, 9)) for at in (100, 90)
    )
    told = said(now, before, "open", german)
    assert "Schlägertempo (+10,0" in told
    assert " vergleichbare Flugweite (+10" in told
    carry = next(one for one in MEASURES if one.key == "comparable_carry_m")
    data = measure_data(carry, "open", page_context(academy("de"), "coach", DAY))
    assert (data["name"], data["said"]) == ("Vergleichbare Flugweite", "vergleichbare Flugweite")
