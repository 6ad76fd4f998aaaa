"""What the pages of a federation are made from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from datetime import date

    import polars as pl


class Together(Protocol):
    """Estimates of several academies as one; see the measure that pools them."""

    @property
    def n(self) -> int: ...  # noqa: D102
    @property
    def mean(self) -> float: ...  # noqa: D102
    @property
    def low(self) -> float: ...  # noqa: D102
    @property
    def high(self) -> float: ...  # noqa: D102
    @property
    def between_sd(self) -> float: ...  # noqa: D102
    @property
    def between_low(self) -> float: ...  # noqa: D102
    @property
    def between_high(self) -> float: ...  # noqa: D102
    @property
    def heterogeneity(self) -> float: ...  # noqa: D102
    @property
    def heterogeneity_low(self) -> float: ...  # noqa: D102
    @property
    def heterogeneity_high(self) -> float: ...  # noqa: D102
    @property
    def next_low(self) -> float | None: ...  # noqa: D102
    @property
    def next_high(self) -> float | None: ...  # noqa: D102


@dataclass(frozen=True)
class FederationFacts:
    """Everything that the pages say.

    Attributes
    ----------
    month_on : date or None
        Newest month of which anything was shared.
    usual : polars.DataFrame
        sex, age_band, standard (null: all), quantity (speed [m/s], growth [% a year], scatter [m]), mean, low, high, n_persons,
        n_academies.
    norms : polars.DataFrame
        Rows of ``federation_norm`` of the newest month.
    blocks : polars.DataFrame
        academy, n_persons, n_blocks, effect_pct, low, high, first_on, last_on.
    together : Together or None
        None with fewer than two academies.
    quality : polars.DataFrame
        academy, month_on (newest), n_persons (null: no levels were shared), n_months, and the columns of ``shared_quality``.
    silent : tuple of str
        Academies of the federation of which nothing was shared.
    refused : tuple of (str, str)
        Files that were left out, and why.
    """

    month_on: date | None
    usual: pl.DataFrame
    norms: pl.DataFrame
    blocks: pl.DataFrame
    together: Together | None
    quality: pl.DataFrame
    silent: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]
