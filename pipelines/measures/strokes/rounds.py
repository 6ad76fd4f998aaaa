"""Score cards: score, fairways and penalties by month, and whether the tee game's change shows in the score."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl
from scipy.special import stdtrit

from pipelines.measures.grouping import by_group
from pipelines.measures.intervals import LEVEL, count_interval, share_interval
from pipelines.measures.reach import SURE_AND_LIKELY
from pipelines.measures.reference_months import RECENT_MONTHS
from pipelines.measures.worthwhile import STROKES

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

WHOLE_ROUND = 18
SQUAD_DF = 8.0
"""Degrees of freedom that the squad's spread of a round counts beside a player's own, which takes over with rounds."""


@dataclass(frozen=True)
class ScoreSpread:
    """How far one round of 18 holes lies from the next.

    Attributes
    ----------
    sd : float
        Standard deviation [strokes].
    df : float
        Degrees of freedom behind it, the squad's share included.
    """

    sd: float
    df: float


def with_size(rounds: pl.DataFrame) -> pl.DataFrame:
    """Rounds whose strokes and holes are known, with ``month_on`` and ``size``: holes over 18."""
    known = rounds.filter(pl.col("strokes").is_not_null(), pl.col("holes").is_not_null())
    return known.with_columns(
        pl.col("played_on").dt.truncate("1mo").alias("month_on"), (pl.col("holes") / WHOLE_ROUND).alias("size")
    ).sort("player_id", "played_on", "round_no")


def score_spreads(sized: pl.DataFrame) -> dict[str, ScoreSpread]:
    """Each player's spread of a round within a month.

    Parameters
    ----------
    sized : polars.DataFrame
        As from :func:`with_size`.

    Returns
    -------
    dict
        Empty where no month has two rounds of one player. Strokes of a round of ``size`` s have s times the variance of a
        whole round; a player's own variance is averaged with the squad's, weighted by degrees of freedom, the squad counting
        :data:`SQUAD_DF` of them.

    Notes
    -----
    Source: [Gelman2013] (a scaled inverse chi-square for the variance). Checked: tests/unit/test_rounds.py
    """
    months = sized.with_columns(
        (pl.col("strokes").sum() / pl.col("size").sum()).over("player_id", "month_on").alias("level")
    ).with_columns(((pl.col("strokes") - pl.col("level") * pl.col("size")) ** 2 / pl.col("size")).alias("square"))
    by_player = (
        months.group_by("player_id", maintain_order=True)
        .agg(pl.col("square").sum(), (pl.len() - pl.col("month_on").n_unique()).alias("df"))
        .sort("player_id")
    )
    df, square = float(by_player["df"].sum() or 0), float(by_player["square"].sum() or 0.0)
    if df <= 0 or square <= 0:
        return {}
    squad = square / df
    return {
        row["player_id"]: ScoreSpread(
            math.sqrt((SQUAD_DF * squad + row["square"]) / (SQUAD_DF + row["df"])), SQUAD_DF + row["df"]
        )
        for row in by_player.iter_rows(named=True)
    }


def round_months(rounds: pl.DataFrame, schema: dict[str, pl.DataType]) -> pl.DataFrame:
    """Score, fairways and penalties of each player and month.

    Parameters
    ----------
    rounds : polars.DataFrame
        Columns of the table ``round``.
    schema : dict
        Columns and types of the result, in order.

    Returns
    -------
    polars.DataFrame
        A row per player and month with a round whose score and holes are known. ``score`` is strokes per 18 holes. Intervals
        are 90 %: of the score by Student's t with the player's spread, of fairways and penalties by :func:`share_interval`
        and :func:`count_interval`. What no card of the month says is null.

    Checked: tests/unit/test_rounds.py
    """
    sized = with_size(rounds)
    spreads = score_spreads(sized)
    known = {"tees": ("tee_shots", "fairways"), "carded": ("penalties",)}
    told = {name: pl.all_horizontal(pl.col(columns).is_not_null()) for name, columns in known.items()}
    months = by_group(sized, ["player_id", "month_on"]).agg(
        pl.len().alias("n_rounds"),
        pl.col("holes", "strokes", "size").sum(),
        pl.col("tee_shots", "fairways").filter(told["tees"]).sum(),
        pl.col("penalties").filter(told["carded"]).sum(),
        pl.col("size").filter(told["carded"]).sum().alias("carded_size"),
        told["carded"].any().alias("is_carded"),
    )
    rows: list[dict[str, Any]] = []
    for month in months.iter_rows(named=True):
        score, error, reach = _score(month["strokes"], month["size"], spreads.get(month["player_id"]))
        away = None if error is None else reach * error
        rows.append(
            {
                "player_id": month["player_id"],
                "month_on": month["month_on"],
                "n_rounds": month["n_rounds"],
                "n_holes": month["holes"],
                "score": score,
                "score_low": None if away is None else score - away,
                "score_high": None if away is None else score + away,
                **_fairways(int(month["tee_shots"]), int(month["fairways"])),
                **_penalties(int(month["penalties"]), month["carded_size"], is_carded=month["is_carded"]),
            }
        )
    return pl.DataFrame(rows, schema=schema, orient="row").sort("player_id", "month_on")


def _score(strokes: float, size: float, spread: ScoreSpread | None) -> tuple[float, float | None, float]:
    """Strokes per 18 holes, standard error, and the t quantile of its 90 % interval."""
    score = float(strokes) / size
    if spread is None:
        return score, None, 0.0
    return score, spread.sd / math.sqrt(size), float(stdtrit(spread.df, (1.0 + LEVEL) / 2.0))


def _fairways(tries: int, hits: int) -> dict[str, Any]:
    if tries == 0:
        return {"n_tee_shots": 0, "fairway_share": None, "fairway_low": None, "fairway_high": None}
    low, high = share_interval(hits, tries)
    return {"n_tee_shots": tries, "fairway_share": hits / tries, "fairway_low": low, "fairway_high": high}


def _penalties(count: int, size: float, *, is_carded: bool) -> dict[str, Any]:
    if not is_carded:
        return {"penalties": None, "penalties_low": None, "penalties_high": None}
    low, high = count_interval(count, size)
    return {"penalties": count / size, "penalties_low": low, "penalties_high": high}


def rounds_to_see(change: float, spread: ScoreSpread) -> int | None:
    """Rounds of 18 holes, before and after alike, that show a change of score four times in five at a level of .10.

    Parameters
    ----------
    change : float
        [strokes a round]
    spread : ScoreSpread

    Returns
    -------
    int or None
        ``n = 2 ((z_.95 + z_.80) sd / change)^2``, at least 2; None where the change is below :data:`STROKES`.

    Source: [Cohen1988]. Checked: tests/published/test_rounds.py
    """
    if abs(change) < STROKES:
        return None
    return max(2, math.ceil(2.0 * (SURE_AND_LIKELY * spread.sd / change) ** 2))


def home_cards(rounds: pl.DataFrame, homes: pl.DataFrame, own_courses: tuple[str, ...]) -> pl.DataFrame:
    """Rounds that may have been played on the course that counts for their player.

    Parameters
    ----------
    rounds : polars.DataFrame
        Columns of the table ``round``.
    homes : polars.DataFrame
        ``player_id``, ``course``: one row a player.
    own_courses : tuple of str
        Names of the academy's own courses.

    Returns
    -------
    polars.DataFrame
        The rounds whose card names the course that counts, or none. Where that course is none of the academy's own but stands for
        a kind of course, no card can name it: there the rounds that name none of the academy's own.

    Checked: tests/unit/test_rounds.py
    """
    at = pl.col("course").str.strip_chars()
    own = list(own_courses)
    elsewhere = pl.when(pl.col("home").is_in(own)).then(at != pl.col("home")).otherwise(at.is_in(own))
    known = rounds.join(homes.select("player_id", pl.col("course").alias("home")), on="player_id", maintain_order="left")
    return known.filter(~elsewhere.fill_null(value=False)).drop("home")


def score_gains(rounds: pl.DataFrame, tee_game: pl.DataFrame, schema: dict[str, pl.DataType]) -> pl.DataFrame:
    """Whether the change of each player's tee game shows in the score, over the same months.

    Parameters
    ----------
    rounds : polars.DataFrame
        Columns of the table ``round``; those of the course that counts, as from :func:`home_cards`.
    tee_game : polars.DataFrame
        One row a player: the newest month's row of ``stroke_month`` on the course that counts.
    schema : dict

    Returns
    -------
    polars.DataFrame
        A row for each player with rounds in the three months that end with the row's month. ``expected_change`` is what the
        drives say, ``score_change`` what the cards say, of the same months against the same reference months; fewer is
        better. ``state``: ``shows`` (the interval of the score lies on the side of the expected change), ``against`` (on the
        other side), ``not_yet`` (it holds 0), ``drives_unclear`` (it does not, but that of the drives does), ``too_small``
        (the drives changed by less than :data:`STROKES`), ``no_reference``. ``fairway_state`` compares the fairway share of
        the drives' pattern with that of the cards: ``agrees``, ``fewer`` or ``more`` (on the cards), ``unknown``.

    Notes
    -----
    The interval of the score's change is 90 %, by Student's t with the player's spread. Checked: tests/unit/test_rounds.py
    """
    sized = with_size(rounds)
    spreads = score_spreads(sized)
    rows = []
    for row in tee_game.sort("player_id").iter_rows(named=True):
        own = sized.filter(pl.col("player_id") == row["player_id"])
        first = _months_before(row["month_on"], RECENT_MONTHS[1])
        recent = own.filter(pl.col("month_on").is_between(first, row["month_on"]))
        if recent.is_empty():
            continue
        rows.append(
            {"player_id": row["player_id"], "month_on": row["month_on"], "course": row["course"], "recent_from_on": first}
            | _gain(row, recent, _reference(own, row), spreads.get(row["player_id"]))
            | _fairway_check(row, recent)
        )
    return pl.DataFrame(rows, schema=schema, orient="row")


def _months_before(month: date, n: int) -> date:
    place = month.year * 12 + month.month - 1 - n
    return month.replace(year=place // 12, month=place % 12 + 1)


def _reference(own: pl.DataFrame, row: Mapping[str, Any]) -> pl.DataFrame:
    if row["reference_from_on"] is None:
        return own.clear()
    return own.filter(pl.col("month_on").is_between(row["reference_from_on"], row["reference_to_on"]))


def _score_of(rounds: pl.DataFrame, spread: ScoreSpread | None) -> tuple[float, float | None, float]:
    return _score(float(rounds["strokes"].sum()), float(rounds["size"].sum()), spread)


def _gain(row: Mapping[str, Any], recent: pl.DataFrame, reference: pl.DataFrame, spread: ScoreSpread | None) -> dict[str, Any]:
    score, error, reach = _score_of(recent, spread)
    found: dict[str, Any] = {
        "n_rounds": recent.height,
        "score": score,
        "score_low": None if error is None else score - reach * error,
        "score_high": None if error is None else score + reach * error,
        "round_sd": None if spread is None else spread.sd,
        "reference_from_on": row["reference_from_on"],
        "reference_to_on": row["reference_to_on"],
        "n_reference_rounds": reference.height,
        "expected_change": row["change"],
        "expected_low": row["change_low"],
        "expected_high": row["change_high"],
        "score_change": None,
        "change_low": None,
        "change_high": None,
        "rounds_to_see": None if spread is None or row["change"] is None else rounds_to_see(row["change"], spread),
        "state": "no_reference",
    }
    if reference.is_empty() or spread is None or error is None or row["change"] is None:
        return found
    before, before_error, _ = _score_of(reference, spread)
    away = reach * math.hypot(error, before_error or 0.0)
    change = score - before
    return found | {
        "score_change": change,
        "change_low": change - away,
        "change_high": change + away,
        "state": _state(row["change"], row["change_low"] > 0.0 or row["change_high"] < 0.0, change - away, change + away),
    }


def _state(expected: float, is_expected_clear: bool, low: float, high: float) -> str:
    if abs(expected) < STROKES:
        return "too_small"
    if low <= 0.0 <= high:
        return "not_yet"
    if not is_expected_clear:
        return "drives_unclear"
    return "shows" if (high < 0.0) == (expected < 0.0) else "against"


def _fairway_check(row: Mapping[str, Any], recent: pl.DataFrame) -> dict[str, Any]:
    told = recent.filter(pl.col("tee_shots").is_not_null(), pl.col("fairways").is_not_null())
    own = _fairways(int(told["tee_shots"].sum()), int(told["fairways"].sum()))
    cards = {f"card_{name}": own[name] for name in ("fairway_share", "fairway_low", "fairway_high")}
    state = "unknown"
    if own["fairway_share"] is not None:
        model = row["fairway_share"]
        state = "more" if model < own["fairway_low"] else "fewer" if model > own["fairway_high"] else "agrees"
    return {"n_tee_shots": own["n_tee_shots"], "drive_fairway_share": row["fairway_share"], **cards, "fairway_state": state}
