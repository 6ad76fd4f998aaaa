"""Flight of a golf ball: :func:`fly` for reported shots, :func:`trajectory_landing` for exact checks of the integrator."""

from pipelines.measures.flight.coefficients import (
    COEFFICIENT_SETS,
    CoefficientSet,
    bearman_harvey_coefficients,
    pooled_coefficients,
    usga_coefficients,
)
from pipelines.measures.flight.shots import REASONS, Flight, fly
from pipelines.measures.flight.trajectory import Landing, Launch, trajectory_landing

__all__ = [
    "COEFFICIENT_SETS",
    "REASONS",
    "CoefficientSet",
    "Flight",
    "Landing",
    "Launch",
    "bearman_harvey_coefficients",
    "fly",
    "pooled_coefficients",
    "trajectory_landing",
    "usga_coefficients",
]
