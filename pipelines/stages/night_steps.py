"""What is computed in a night, and in which order."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from pipelines.stages.decide import measure_decisions
from pipelines.stages.measure.ball_flags import measure_ball_flags
from pipelines.stages.measure.body import measure_body
from pipelines.stages.measure.carry import begin_flights, measure_comparable_carry
from pipelines.stages.measure.flags import measure_flags
from pipelines.stages.measure.lasting import measure_lasting
from pipelines.stages.measure.load import measure_load
from pipelines.stages.measure.overuse import measure_overuse
from pipelines.stages.measure.patterns import measure_patterns
from pipelines.stages.measure.programme import measure_programme
from pipelines.stages.measure.proposals import measure_proposals
from pipelines.stages.measure.score_cards import measure_score_cards
from pipelines.stages.measure.since import measure_since
from pipelines.stages.measure.spread import measure_spread
from pipelines.stages.measure.squad_health import measure_squad_health
from pipelines.stages.measure.stories import measure_stories
from pipelines.stages.measure.strokes import measure_strokes
from pipelines.stages.measure.summaries import measure_summaries
from pipelines.stages.measure.transfer import measure_transfer
from pipelines.stages.measure.trends import measure_trends
from pipelines.stages.measure.trials import begin_trials, measure_trials
from pipelines.stages.measure.within_sessions import measure_within_sessions

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    import duckdb

    from schemas.academy import Academy

    Measure = Callable[[duckdb.DuckDBPyConnection, Academy, date], None]

MEASURES: tuple[tuple[str, Measure], ...] = (
    ("Summarising sessions", measure_summaries),
    ("Looking into sessions", measure_within_sessions),
    ("Counting load", measure_load),
    ("Bringing spread together", measure_spread),
    ("Reading reports", measure_body),
    ("Looking at the squad's health", measure_squad_health),
    ("Restating carry", measure_comparable_carry),
    ("Drawing shot patterns", measure_patterns),
    ("Following trends", measure_trends),
    ("Following speed to the ball", measure_transfer),
    ("Counting strokes", measure_strokes),
    ("Listing what lasts", measure_lasting),
    ("Looking for returns to normal", measure_since),
    ("Reading score cards", measure_score_cards),
    ("Weighing speed against strokes", measure_ball_flags),
    ("Setting the programme beside what was done", measure_programme),
    ("Comparing trials", measure_trials),
    ("Placing trials on the trade-off map", measure_proposals),
    ("Seeing signs together", measure_overuse),
    ("Raising flags", measure_flags),
    ("Writing one record of each player", measure_stories),
    ("Following decisions", measure_decisions),
)
"""In this order: later steps read what earlier ones wrote."""

AHEAD: MappingProxyType[str, tuple[Measure, ...]] = MappingProxyType(
    {"Summarising sessions": (begin_flights,), "Listing what lasts": (begin_trials,)}
)
"""What is begun before a step, for a later one: the crew is at work while this process does what it does alone."""

UNTIL_DECIDED: tuple[Measure, ...] = (begin_trials, measure_trials, measure_decisions)
"""What follows decisions and declared trials, which may be made after the last day with data."""
