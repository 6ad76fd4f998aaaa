"""Which rows of the academy the worked examples of the methods page take: recent ones with much behind them, always the same."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.worked import (
    CARRY,
    SPEED,
    body_example,
    carry_example,
    jump_example,
    level_example,
    normal_example,
    strokes_example,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import Marts

LEAST_SHOTS, RECENT_DAYS, BY_AIR = 6, 180, 0.06
LATE_DAYS = 31
"""So many days before the last session of all the newest one that tells something may lie, without all rows being read."""
ANSWER_DAYS = 91
"""The last twelve weeks, which are kept by day, and what remains of the week that goes on."""
READERS = ("coach", "physio")
"""Who may read numbers of named players on a page for all; the players' methods page is one for everybody."""

Row = dict[str, Any]


def _newest(marts: Marts, rows: pl.DataFrame, day: str, *order: str) -> Row | None:
    """The last row by day, then by what stands behind it, then by name."""
    return _last(marts, rows.filter(pl.col(day) == pl.col(day).max()), *order)


def _last(marts: Marts, rows: pl.DataFrame, *order: str) -> Row | None:
    """The last row in this order, with the player's name."""
    if rows.is_empty():
        return None
    row = rows.sort(*order).row(-1, named=True)
    return row | {"alias": marts.part("mart_player", player_id=row["player_id"])["alias"][0]}


def _trend(marts: Marts, metric: str, since: date | None, *wanted: pl.Expr) -> pl.DataFrame:
    rows = marts.part("mart_trend", since=since, metric=metric, club_group="driver")
    return rows.filter(pl.col("n") >= LEAST_SHOTS, pl.col("value").is_not_null(), *wanted)


def _last_day(days: pl.Series) -> date | None:
    found = days.max()
    return found if isinstance(found, date) else None


def recent_rows(marts: Marts, read: Callable[[date | None], pl.DataFrame]) -> pl.DataFrame:
    """The rows of the last :data:`RECENT_DAYS` days up to their newest; first only late rows are read, which mostly tell."""
    last = _last_day(marts.rows("mart_player")["last_session_on"])
    since = last and last - timedelta(days=RECENT_DAYS + LATE_DAYS)
    rows = read(since)
    newest = _last_day(rows["on_date"])
    if since and (newest is None or (newest - since).days < RECENT_DAYS):
        rows = read(None)
    return rows.filter((pl.col("on_date").max() - pl.col("on_date")).dt.total_days() < RECENT_DAYS)


def _restated(marts: Marts, since: date | None) -> pl.DataFrame:
    """Sessions of drives with their carry as measured and restated."""
    measured = marts.part("mart_session_club", since=since, club_group="driver").select("session_id", "player_id", "carry_m")
    rows = _trend(marts, CARRY, since).join(measured, on=["session_id", "player_id"])
    return rows.filter(pl.col("carry_m").is_not_null())


def _carry(marts: Marts) -> Row | None:
    """The recent session whose carry was moved most by the air; what moves it farther is a range ball."""
    recent = recent_rows(marts, lambda since: _restated(marts, since))
    moved = recent.with_columns((pl.col("value") / pl.col("carry_m") - 1).abs().alias("moved")).filter(pl.col("moved") < BY_AIR)
    return _last(marts, moved, "moved", "session_id")


def _speed(marts: Marts) -> Row | None:
    known = pl.all_horizontal(pl.col("change_28", "change_28_low", "usual", "usual_sd", "worthwhile").is_not_null())
    recent = recent_rows(marts, lambda since: _trend(marts, SPEED, since, known))
    return _newest(marts, recent, "on_date", "n", "player_id", "session_id")


def _strokes(marts: Marts, context: PageContext) -> Row | None:
    months = marts.rows("mart_stroke_month").filter(pl.col("per_round").is_not_null())
    return _newest(marts, context.at_home(months, marts), "month_on", "n_shots", "player_id")


def _week(marts: Marts, context: PageContext) -> Row | None:
    if marts.audience == "coach" and not context.academy.access.coach_sees_load:
        return None
    known = marts.rows("mart_load_now").filter(pl.col("week_swings").is_not_null(), pl.col("usual_week_swings") > 0)
    return known.sort("week_change_swings", "player_id", nulls_last=False).row(-1, named=True) if known.height else None


def _body(marts: Marts) -> Row | None:
    if marts.audience != "physio":
        return None
    wanted = (pl.col("region") != "", pl.col("score").is_not_null(), pl.col("n_recent") > 1)
    for day in _answered_days(marts.rows("mart_physio_body_week")):  # of so many rows only those of a day; mostly the first tell
        rows = marts.part("mart_physio_body_day", on_date=day).filter(*wanted)
        if rows.height:
            return _last(marts, rows, "score", "player_id", "item")
    return None


def _answered_days(weeks: pl.DataFrame) -> Iterator[date]:
    """The last days first, of weeks in which answers about a region met a normal: on others no answer has a score."""
    told = weeks.filter(pl.col("region") != "", pl.col("normal").is_not_null())["week_starting"].unique()
    for week in told.sort(descending=True):
        for ago in range(7):
            day = week + timedelta(days=6 - ago)
            if (weeks["week_starting"].max() - week).days + ago < ANSWER_DAYS:
                yield day


def worked_examples(marts: Marts, context: PageContext) -> dict[str, str]:
    """Measure, as the methods page calls it, to its example; only for readers of named players, and where there are data."""
    if marts.audience not in READERS:
        return {}
    numbers, speed = context.numbers, _speed(marts)
    carry, strokes, week, body = _carry(marts), _strokes(marts, context), _week(marts, context), _body(marts)
    found = {
        "level": speed and level_example(speed, numbers),
        "normal": speed and normal_example(speed, numbers),
        "carry": carry and carry_example(carry, context.academy.reference_air, numbers),
        "strokes": strokes and strokes_example(strokes, numbers),
        "jump": week and jump_example(week, numbers),
        "body": body and body_example(body, numbers),
    }
    return {name: text for name, text in found.items() if text}
