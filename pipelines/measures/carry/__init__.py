"""Carry made comparable over months: restated for still reference air, with method and reason for every value."""

from pipelines.measures.carry.comparable import METHODS, READS, REASONS, assumed_spins, comparable_carry, modelled_shots
from pipelines.measures.carry.factors import FACTOR_SOURCES, ball_cells, ball_factors
from pipelines.measures.carry.models import OTHER_MODELS, model_ratios, other_models
from pipelines.measures.carry.session_air import air_density_by_shot, reference_density_kgpm3

__all__ = [
    "FACTOR_SOURCES",
    "METHODS",
    "OTHER_MODELS",
    "READS",
    "REASONS",
    "air_density_by_shot",
    "assumed_spins",
    "ball_cells",
    "ball_factors",
    "comparable_carry",
    "model_ratios",
    "modelled_shots",
    "other_models",
    "reference_density_kgpm3",
]
