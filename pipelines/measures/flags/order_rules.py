"""Rules about order: done and planned drift apart, and nothing has come for too long."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import polars as pl

from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA, candidates

FAR_BELOW, FAR_ABOVE = 0.60, 1.50
"""Done over planned full swings of a week that is far from its plan."""

USUAL_GAPS = 3.0
"""Nothing for so many times the usual gap between days with anything."""


def plan_candidates(weeks: pl.DataFrame) -> pl.DataFrame:
    """Candidates of ``plan_gap``.

    Parameters
    ----------
    weeks : polars.DataFrame
        Finished weeks with a plan, without those in which the player was absent or of which nothing is known: player_id,
        week_starting, planned, done (full swings).

    Returns
    -------
    polars.DataFrame
        One row per week that opens, holds, or follows one that held; the night is the Sunday.

    Notes
    -----
    Far: done below .60 or above 1.50 of planned. Opens: this week and one of the two before are far on the same side.

    Source: own rule
    Checked: tests/unit/test_order_rules.py
    """
    ratio = pl.col("done") / pl.col("planned")
    side = pl.when(ratio < FAR_BELOW).then(-1).when(ratio > FAR_ABOVE).then(1).otherwise(0)
    judged = (
        weeks.filter(pl.col("planned") > 0)
        .sort("player_id", "week_starting")
        .with_columns(ratio.alias("ratio"), side.alias("side"))
        .with_columns(pl.col("side").shift(back).over("player_id").fill_null(0).alias(f"side_{back}") for back in (1, 2))
    )
    far = pl.col("side") != 0
    again = (pl.col("side") == pl.col("side_1")) | (pl.col("side") == pl.col("side_2"))
    said = judged.with_columns((far & again).alias("opens")).filter(far | (pl.col("side_1") != 0))
    return candidates(
        said.select(
            "player_id",
            (pl.col("week_starting") + pl.duration(days=6)).alias("on_date"),
            pl.lit("plan_gap").alias("kind"),
            pl.lit("swings_full").alias("metric"),
            "opens",
            (far & again).alias("holds"),
            pl.lit(value=True).alias("certain"),
            (2.0 + (pl.col("ratio").clip(0.05, 20.0).log()).abs()).alias("strength"),
            pl.col("done").cast(pl.Float64).alias("value"),
            pl.col("planned").cast(pl.Float64).alias("baseline"),
            pl.lit(2, dtype=pl.Int64).alias("n"),
            pl.concat_list(pl.format("done_over_planned={}", pl.col("ratio").round(2))).alias("reasons"),
            pl.concat_list(pl.format("plan:{}", pl.col("week_starting"))).alias("sources"),
        )
    )


def quiet_candidates(
    signs: pl.DataFrame, absences: pl.DataFrame, players: pl.DataFrame, quiet_after_days: int, as_of: dt.date
) -> pl.DataFrame:
    """Candidates of ``quiet``.

    Parameters
    ----------
    signs : polars.DataFrame
        player_id, on_date: days with a session (rest days too) or an answer.
    absences : polars.DataFrame
        player_id, began_on, ended_on (null: goes on).
    players : polars.DataFrame
        player_id, left_on (null: still here; somebody has left from that day on).
    quiet_after_days : int
        The academy's limit.
    as_of : datetime.date

    Notes
    -----
    Opens when nothing has come for more than the limit, and more than 3 times the player's usual (median) gap so far; days of an
    entered absence do not count. Closes with the next sign, an absence, or when the player leaves.

    Source: own rule
    Checked: tests/unit/test_order_rules.py
    """
    rows: list[dict[str, object]] = []
    left = dict(players.select("player_id", "left_on").iter_rows())
    away: dict[str, list[tuple[dt.date, dt.date]]] = {}
    for player_id, began, ended in absences.select("player_id", "began_on", "ended_on").iter_rows():
        away.setdefault(player_id, []).append((began, ended or as_of))
    for (player_id,), own in sorted(signs.unique().group_by("player_id"), key=lambda item: str(item[0][0])):
        days = sorted(own["on_date"].to_list())
        gone = left.get(str(player_id))
        last = as_of if gone is None else min(gone - dt.timedelta(days=1), as_of)
        if here := [day for day in days if day <= last]:
            rows += _silences(str(player_id), here, away.get(str(player_id), []), quiet_after_days, last)
    wanted = ("player_id", "on_date", "kind", "opens", "holds", "certain", "strength", "value", "baseline", "n", "reasons")
    return candidates(pl.DataFrame(rows, schema={name: CANDIDATE_SCHEMA[name] for name in wanted}))


def _silences(
    player_id: str, days: list[dt.date], away: list[tuple[dt.date, dt.date]], limit: int, last: dt.date
) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    gaps = [(following - day).days for day, following in pairwise(days)]
    for number, (day, following) in enumerate(zip(days, [*days[1:], None], strict=True)):
        if following is not None and gaps[number] <= limit + 1:
            continue  # shorter than any silence
        before = sorted(gaps[:number])
        usual = before[len(before) // 2] if before else 1
        wait = max(limit, int(USUAL_GAPS * usual))
        spoken = _after_absence(day, away, wait)
        opens_on = spoken + dt.timedelta(days=wait + 1)
        if opens_on <= last and (following is None or opens_on < following):
            rows.append(_quiet_row(player_id, opens_on, wait, usual, opens=True))
            over = min([began for began, _ in away if began > opens_on] + ([following] if following else []), default=None)
            if over is not None:
                rows.append(_quiet_row(player_id, over, wait, usual, opens=False))
    return rows


def _after_absence(day: dt.date, away: list[tuple[dt.date, dt.date]], wait: int) -> dt.date:
    """Last day that explains the silence: the sign itself, or the end of an absence that began before it was too long."""
    for began, ended in sorted(away):
        if ended > day and began <= day + dt.timedelta(days=wait + 1):
            day = ended
    return day


def _quiet_row(player_id: str, on: dt.date, wait: int, usual: int, *, opens: bool) -> dict[str, object]:
    return {
        "player_id": player_id,
        "on_date": on,
        "kind": "quiet",
        "opens": opens,
        "holds": opens,
        "certain": True,
        "strength": 2.0,
        "value": float(wait + 1),
        "baseline": float(usual),
        "n": wait + 1,
        "reasons": [f"days_without_sign={wait + 1}", f"usual_gap={usual}"],
    }
