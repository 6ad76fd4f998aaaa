"""Trends of session values, the squad's norms, shifts, baselines and device offsets, and what their rules say of each night."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.baseline.levels import baselines
from pipelines.measures.device.cause import CAUSES
from pipelines.measures.federation.norms import worthwhile_priors
from pipelines.measures.flags.chart_kinds import CHART_RULES
from pipelines.measures.flags.chart_rules import chart_candidates, players_judged, stall_candidates
from pipelines.measures.flags.device_rules import device_candidates
from pipelines.measures.flags.identity import flag_id
from pipelines.measures.summary import SESSION_GRAIN
from pipelines.measures.trend.assembly import LEARNING_SESSIONS, followed_rows, in_natural_units, plain_rows, trends
from pipelines.measures.trend.observations import OBSERVED
from pipelines.stages.stale import ASKED, MONTH, Apart, Read, Renewal, keep_estimates, known_estimates
from schemas.core.flags import CANDIDATE
from schemas.core.summaries import STILL_SESSION
from schemas.core.trends import BASELINE, DEVICE_OFFSET, NORM, SHIFT, TREND_POINT, TREND_STATE
from warehouse.connection import frame, replace_table, transaction
from warehouse.decisions import decision_rows
from warehouse.flags import replace_candidates

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    import duckdb

    from pipelines.measures.device.ledger import Word
    from pipelines.measures.estimates import Estimates
    from pipelines.measures.trend.assembly import Trends, Words
    from schemas.academy import Academy

_DAYS = {TREND_POINT.name: "on_date", SHIFT.name: "found_on", CANDIDATE.name: "on_date"}
TRENDS = "trends"
_BLOCKS_AT_ONCE = 5
"""Little is read of the database, and the squad's sessions are held beside."""
PLAYER_KINDS: tuple[str, ...] = (*(rule.kind for rule in CHART_RULES), "speed_stall")


def trends_by_player(parts: Sequence[pl.DataFrame]) -> Apart:
    """Trends and what their rules say: of a player's month, from sessions up to it with all that the squad tells of them."""
    dated = [part.with_columns(month_on=pl.col("on_date").dt.month_start()) for part in parts]
    few = pl.col("player_id").cast(pl.Categorical)  # of millions of rows
    held = pl.concat([part.select("metric", few, "on_date").unique() for part in parts])
    judged, days = players_judged(held), held.select("player_id", "on_date").unique()
    days = days.select(pl.col("player_id").cast(pl.String), pl.col("on_date").dt.month_start().alias("month_on"), "on_date")
    tables = (TREND_POINT, SHIFT, CANDIDATE)
    found, kept = (Read(table.name, table.grain, told=False) for table in (SHIFT, TREND_STATE))
    reads: dict[str, Read | pl.DataFrame | Sequence[pl.DataFrame]] = {
        "rows": dated, "tested": days.join(_by_day(judged), on="on_date"), "found": found, "kept": kept,
    }  # fmt: skip
    states = ("kept", TREND_STATE)
    return Apart(TRENDS, tables, reads, trend_rows, "", MONTH, PLAYER_KINDS, _DAYS, _BLOCKS_AT_ONCE, states)


def trend_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``trend_point`` and ``trend_shift``, candidates, and states to be kept."""
    asked = read[ASKED].with_columns(asked=pl.lit(value=True))
    rows = plain_rows(read["rows"]).join(asked, on=asked.columns[:-1], how="left", maintain_order="left").drop("month_on")
    begun = read[ASKED].group_by("player_id").agg(pl.col("month_on").min())
    before = read["found"].join(begun, on="player_id", maintain_order="left").filter(pl.col("found_on") < pl.col("month_on"))
    asked_from = begun.rename({"month_on": "asked_from"})
    kept = read["kept"].join(asked_from, on="player_id", maintain_order="left").filter(pl.col("month_on") < pl.col("asked_from"))
    told = followed_rows(rows.with_columns(pl.col("asked").fill_null(value=False)), before.drop("month_on"), kept)
    points = told.points
    tested = _by_kind(read["tested"].drop(*MONTH).unique())
    # of sessions whose points stand the rules read no more than that they were
    beside = rows.drop("asked").join(points, on=[*SESSION_GRAIN, "metric"], how="anti", maintain_order="left")
    streams = pl.concat([points, beside], how="diagonal")
    found = {
        TREND_POINT.name: in_natural_units(points),
        SHIFT.name: told.shifts.unique(SHIFT.grain, keep="last", maintain_order=True),
        CANDIDATE.name: pl.concat([chart_candidates(streams, tested), stall_candidates(streams, tested)]),
    }
    in_months = {name: _in_months(rows, read[ASKED], _DAYS[name]) for name, rows in found.items()}
    return in_months | {TREND_STATE.name: told.states}


def _by_day(judged: pl.DataFrame) -> pl.DataFrame:
    """One row a day with a column for each kind: each player's days name them, and eight times as many rows would."""
    return judged.pivot(on="kind", index="on_date", values="n_players")


def _by_kind(days: pl.DataFrame) -> pl.DataFrame:
    told = days.unpivot(index="on_date", variable_name="kind", value_name="n_players").drop_nulls()
    return told.select(pl.col("kind").cast(pl.String), "on_date", pl.col("n_players").cast(pl.Int64))


def _in_months(rows: pl.DataFrame, months: pl.DataFrame, day: str) -> pl.DataFrame:
    """Rows of a player's month among these."""
    month = pl.col(day).dt.month_start()
    return rows.join(months, left_on=["player_id", month], right_on=["player_id", "month_on"], how="semi", maintain_order="left")


def squad_trends(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date, estimates: Estimates | None = None) -> Trends:
    """What the squad tells of every session up to ``as_of``; ``estimates``: those of fixed moments before, that stand."""
    players = con.execute("select player_id, birth_year from player").fetchall()
    born = {player_id: year for player_id, year in players if year is not None}
    priors = worthwhile_priors(frame(con, "select * from federation_norm"))
    return trends(_summaries(con, as_of), born, _words_on_devices(con, academy), priors, estimates)


def measure_trends(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write every trend up to ``as_of``, and the candidates of the rules that read them."""
    estimates = known_estimates(con, TRENDS)
    squad = squad_trends(con, academy, as_of, estimates)
    followed = Renewal(con, trends_by_player(squad.parts), _BLOCKS_AT_ONCE)
    levels = pl.concat([baselines(part, as_of, LEARNING_SESSIONS) for part in squad.parts]).sort(BASELINE.grain)
    followed.end()
    with transaction(con):
        keep_estimates(con, TRENDS, estimates)
        replace_table(con, NORM.name, squad.norms.select(NORM.names))
        replace_table(con, BASELINE.name, levels.select(BASELINE.names))
        replace_table(con, DEVICE_OFFSET.name, squad.offsets.select(DEVICE_OFFSET.names))
        replace_candidates(con, ("device_shift",), device_candidates(squad.device_shifts))


def _words_on_devices(con: duckdb.DuckDBPyConnection, academy: Academy) -> Words:
    """What persons said of suspected devices; the last word counts."""
    rows = decision_rows(con).filter(pl.col("decision").is_in(CAUSES)).sort("flag_id", "decided_on", "role")
    last = {
        flag: (decision, decided_on) for flag, decision, decided_on in rows.select("flag_id", "decision", "decided_on").rows()
    }

    def words(metric: str, device_id: str, found_on: date) -> Word | None:
        return last.get(flag_id(academy.id_key, ("", "device_shift", metric, device_id), found_on))

    return words


def _summaries(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """Session summaries, with carry and offline as they would have been in still reference air where that could be told."""
    measured = frame(con, f"select {', '.join(OBSERVED)} from session_club where on_date <= ?", [as_of])
    own = [*SESSION_GRAIN, "club"]
    names = [name for name in OBSERVED if name in STILL_SESSION.names and name not in own]
    still = frame(con, f"select {', '.join([*own, *names])} from still_session")
    told = measured.select(own).join(still, on=own, how="left", maintain_order="left")
    return measured.with_columns(pl.coalesce(told[name], pl.col(name)).alias(name) for name in names)
