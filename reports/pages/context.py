"""What every page function is given: the settings, words, numbers and charts of one site, and the sources to cite."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Protocol

import polars as pl

from reports.charts import ChartBook, Style
from reports.findings.ball import course_phrase
from reports.numbers import Numbers
from reports.pages.figure import figure
from reports.words import Words, words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from markupsafe import Markup

    from reports.charts import Sets
    from schemas.academy import Academy, Units
    from warehouse.marts import Audience, Marts, PlayerMarts


class Source(Protocol):
    """One entry of the bibliography, as the methods page prints it."""

    @property
    def key(self) -> str: ...  # noqa: D102
    @property
    def authors(self) -> str: ...  # noqa: D102
    @property
    def year(self) -> int | None: ...  # noqa: D102
    @property
    def title(self) -> str: ...  # noqa: D102
    @property
    def journal(self) -> str: ...  # noqa: D102
    @property
    def doi(self) -> str: ...  # noqa: D102
    @property
    def known(self) -> str: ...  # noqa: D102
    @property
    def used_for(self) -> str: ...  # noqa: D102


class Printed(Protocol):
    """One value of a published simulation beside what is computed for it, as the methods page prints it."""

    @property
    def trouble(self) -> str: ...  # noqa: D102
    @property
    def standard(self) -> str: ...  # noqa: D102
    @property
    def further_yd(self) -> float: ...  # noqa: D102
    @property
    def straighter_deg(self) -> float: ...  # noqa: D102
    @property
    def printed(self) -> float: ...  # noqa: D102
    @property
    def computed(self) -> float: ...  # noqa: D102
    @property
    def is_calibrated(self) -> bool: ...  # noqa: D102


@dataclass(frozen=True)
class PageContext:
    """Settings and tools of one audience's site.

    Attributes
    ----------
    academy : Academy
    audience : {"coach", "physio", "data", "player"}
    as_of : date
        Last day that the run considered. Pages about one player do not print it.
    words, numbers, charts
        In the academy's language and units.
    sources : sequence of Source
        The bibliography.
    last_files_on : date or None
        Local day on which files last came; None: pages do not say.
    printed : sequence of Printed
        Published values beside computed ones.
    """

    academy: Academy
    audience: Audience
    as_of: date
    words: Words
    numbers: Numbers
    charts: ChartBook
    sources: Sequence[Source] = ()
    with_scripts: bool = True
    last_files_on: date | None = None
    printed: Sequence[Printed] = ()

    def figure(
        self,
        kind: str,
        data: Sets,
        *,
        title: str,
        caption: str,
        alt: str,
        table: Markup | None = None,
        spans: bool = False,
    ) -> Markup:
        """A chart with its title (and unit), its finding, its description and the data behind it.

        Parameters
        ----------
        kind : str
            A kind of :func:`reports.charts.templates`.
        data : mapping of str to DataFrame or ChartRows
            Data set by name; most charts read ``rows``.
        title : str
            What is drawn, with the unit: ``Club speed, mph``.
        caption : str
            The finding: number, unit and comparison; also "no clear change" and "too few data".
        alt : str
            What a reader who does not see it is told.
        table : Markup, optional
            The data behind the chart; shown on demand.
        spans : bool
            Offer the last 3 months, the last 12 months, or all of it (for kinds with an overview).
        """
        return figure(
            self.words,
            self.charts,
            kind,
            data,
            title=title,
            caption=caption,
            alt=alt,
            table=table,
            spans=spans,
            with_scripts=self.with_scripts,
        )

    def href(self, page_path: str, target: str) -> str:
        """A link from the page at ``page_path`` to ``target``; both below the audience's folder."""
        return "../" * page_path.count("/") + target

    def home_course(self, player: PlayerMarts) -> str:
        """Name of the course on which this player's speed and scatter are weighed."""
        rows = player.listed("mart_player")
        return str((rows[0]["home_course"] if rows else None) or self.academy.course)

    def home_courses(self, marts: Marts) -> dict[str, str]:
        """Player to the same."""
        rows = marts.rows("mart_player").select("player_id", "home_course")
        return {player_id: home or self.academy.course for player_id, home in rows.iter_rows()}

    def at_home(self, rows: pl.DataFrame, marts: Marts) -> pl.DataFrame:
        """Rows of a mart with ``player_id`` and ``course``: each player's on the home course."""
        homes = pl.DataFrame(
            list(self.home_courses(marts).items()), schema={"player_id": pl.String, "course": pl.String}, orient="row"
        )
        return rows.join(homes, on=["player_id", "course"], how="semi", maintain_order="left")

    def home_phrase(self, marts: Marts) -> str:
        """The home course of the squad in words; of several, that each player's own is meant."""
        homes = set(self.home_courses(marts).values()) or {self.academy.course}
        return course_phrase(homes.pop(), self.words) if len(homes) == 1 else self.words("tradeoff.each_home")

    def player_path(self, player_id: str) -> str:
        """Path of a player's page in this audience's folder."""
        return f"players/{player_id}.html"


@cache
def _charts(language: str, units: Units) -> ChartBook:
    """The charts of a language and its units, made once in a process: they take longer than the pages of a small squad."""
    return ChartBook(Style(words(language), Numbers(words(language), units)))


def page_context(academy: Academy, audience: Audience, as_of: date, sources: Sequence[Source] = ()) -> PageContext:
    """The context of one audience's site."""
    charts = _charts(academy.language, academy.units)
    return PageContext(academy, audience, as_of, charts.style.words, charts.style.numbers, charts, sources)
