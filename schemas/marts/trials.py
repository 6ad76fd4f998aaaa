"""Marts of technique trials."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.trials import ARM, IDS, TRIAL_BODY, TRIAL_RESULT
from schemas.core.trials import TABLES as CORE
from schemas.tables import Table, integer, text

OF_THE_BODY: tuple[str, ...] = ("physio", "player")


def _mart(table: Table) -> Table:
    mart = replace(table, name=f"mart_{table.name}")
    if table is TRIAL_RESULT:
        return replace(mart, columns=tuple(column for column in table.columns if column.name != "body_side"))
    return replace(mart, readers=OF_THE_BODY) if table is TRIAL_BODY else mart


QUESTION = Table(
    "mart_trial_question",
    "Whether one trial's weeks ask for a talk before the change is kept.",
    ("trial_id",),
    tuple(column for column in TRIAL_RESULT.columns if column.name in {"trial_id", "player_id", "body_side"}),
    OF_THE_BODY,
)

FELT = Table(
    "mart_trial_felt",
    "What was felt at the shots of an arm, as the shot sheet notes it.",
    ("trial_id", "arm", "felt"),
    (
        *IDS,
        ARM,
        text("felt", "A word or two.", required=True),
        integer("n_shots", "Shots at which it was felt, whether they counted or not.", required=True),
    ),
)

MARTS: tuple[Table, ...] = (*(_mart(table) for table in CORE), QUESTION, FELT)
"""Every derived table of a trial as it stands; what the players reported of their bodies is not for the coach."""
