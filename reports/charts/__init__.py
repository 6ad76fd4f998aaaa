"""Charts: an Altair specification is built once per kind, and only the data is swapped.

How to add a kind of chart: write a function ``(Style) -> altair chart`` in ``reports/charts/<area>.py``, reading from
``alt.NamedData("rows")`` (further data sets by further names), and list it in that module's ``CHARTS``::

    CHARTS: dict[str, Template] = {"fairway": fairway}

Then a page calls ``context.figure("fairway", {"rows": frame}, title=..., caption=..., alt=..., table=...)``. Rules:

* columns of the frame are already in the units shown (:meth:`reports.numbers.Numbers.shown`); days are ``pl.Date``;
* set ``width=theme.CHART_WIDTH`` on each view that should fill the column: the page sets the true width. A view of
  fixed width (a body map, a square) uses any other number. Where the vertical axis is wider than ``theme.AXIS_WIDTH``, say so:
  ``usermeta={"edges": axis width + 18}``;
* name every parameter and view yourself, so that the bytes are the same twice;
* at most 5,000 rows, better 500: aggregate in the mart;
* the title stands above the chart in HTML and holds the unit; the caption states the finding; the alt text describes
  what is drawn; ``table`` is the data behind it (see :mod:`reports.tables`).
"""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

import polars as pl

from reports import theme
from reports.chart_rows import ChartRows, script_safe

if TYPE_CHECKING:
    from collections.abc import Callable

    import altair as alt

    from reports.numbers import Numbers
    from reports.words import Words


@dataclass(frozen=True)
class Style:
    """What a template may depend on beside its data: the language and the units."""

    words: Words
    numbers: Numbers


if TYPE_CHECKING:
    Template = Callable[[Style], alt.TopLevelMixin]


@cache
def templates() -> dict[str, Template]:
    """Every kind of chart: the ``CHARTS`` of every module of this package."""
    modules = sorted(module.name for module in pkgutil.iter_modules(__path__))
    found: dict[str, Template] = {}
    for name in modules:
        found.update(getattr(importlib.import_module(f"{__name__}.{name}"), "CHARTS", {}))
    return found


@cache
def columns_behind() -> dict[str, tuple[tuple[str, str], ...]]:
    """Kinds of charts whose drawn rows the page can list: the ``BEHIND`` of every module of this package."""
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    for module in sorted(module.name for module in pkgutil.iter_modules(__path__)):
        found.update(getattr(importlib.import_module(f"{__name__}.{module}"), "BEHIND", {}))
    return found


def _bare(spec: dict[str, Any]) -> dict[str, Any]:
    """Without what is set once for all charts."""
    return {key: value for key, value in spec.items() if key not in {"config", "$schema", "datasets"}}


Sets = Mapping[str, pl.DataFrame | ChartRows]
"""Data sets of a chart by name."""


def expanded(of: pl.DataFrame | ChartRows) -> list[dict[str, Any]]:
    """The list of rows that a chart reads; a day is midnight, local to the reader."""
    rows = of.frame if isinstance(of, ChartRows) else of
    days = [name for name, kind in rows.schema.items() if kind == pl.Date]
    return rows.with_columns(pl.col(name).dt.to_string("%Y-%m-%dT00:00:00") for name in days).to_dicts()


@dataclass
class ChartBook:
    """The specifications in one style, each built when it is first asked for.

    Attributes
    ----------
    style : Style
    """

    style: Style
    _specs: dict[str, dict[str, Any]] = field(default_factory=dict)
    _plans: dict[str, dict[str, Any]] = field(default_factory=dict)

    def spec(self, kind: str) -> dict[str, Any]:
        """The specification of a kind, without data.

        The library would check each part against its schema as it is made, and the whole once more, which takes longer than all
        the rest; a test does that for every kind.
        """
        if kind not in self._specs:
            chart = templates()[kind]
            import altair as alt  # noqa: PLC0415 - heavy, and only whoever builds a site's script needs it

            with alt.utils.schemapi.debug_mode(False):
                made: Any = chart(self.style)
                self._specs[kind] = _bare(made.to_dict(validate=False))
        return self._specs[kind]

    def plan(self, kind: str, *, spanned: bool = False) -> dict[str, Any]:
        """What is drawn of a kind, compiled: only data, width and span are put in then.

        ``spanned``: with a chosen span of time, for whose ends ``theme.SPAN_MARKS`` stand.
        """
        name = f"{kind} spanned" if spanned else kind
        if name not in self._plans:
            spec = self.spec(kind)
            self._plans[name] = _compiled(_spanned(spec) if spanned else spec)
        return self._plans[name]

    def plans(self) -> dict[str, dict[str, Any]]:
        """The plans of all kinds; of one in which a span of time can be chosen there is one more, named ``kind spanned``."""
        found = {kind: self.plan(kind) for kind in sorted(templates())}
        return found | {f"{kind} spanned": self.plan(kind, spanned=True) for kind in found if _has_span(self.spec(kind))}

    def locale(self) -> dict[str, Any]:
        """How the charts write numbers and days."""
        words = self.style.words
        months, short_months = words.lines("locale.months"), words.lines("locale.short_months")
        days, short_days = words.lines("locale.days"), words.lines("locale.short_days")
        return {
            "format": {
                "decimal": words("locale.decimal"),
                "thousands": "\u202f",
                "grouping": [3],
                "currency": ["", ""],
            },
            "timeFormat": {
                "dateTime": "%x %X",
                "date": "%-d %b %Y",
                "time": "%H:%M",
                "periods": ["AM", "PM"],
                "days": days,
                "shortDays": short_days,
                "months": months,
                "shortMonths": short_months,
            },
        }

    def script(self) -> str:
        """The script that a site's pages share: every plan, and the locale."""
        heads = {
            kind: [[name, self.style.words(key)] for name, key in columns] for kind, columns in sorted(columns_behind().items())
        }
        book = {
            "plans": self.plans(),
            "behind": heads,
            "locale": self.locale(),
            "day": self.style.words("locale.short_day", day="{day}", month="{month}", year="{year}"),
            "width": theme.CHART_WIDTH,
            "span": theme.SPAN_MARKS,
        }
        return f"window.speedworth={script_safe(book)};\n"

    def svg(self, kind: str, data: Sets, width: int = theme.CHART_WIDTH) -> str:
        """The chart as a static picture, for pages without script."""
        import vl_convert  # noqa: PLC0415 - heavy, and only pictures and single pages need it

        plan = self.plan(kind)
        stretched = {"width": width} if plan.get("width") == theme.CHART_WIDTH else {}
        sources = [one | ({"values": expanded(data[one["name"]])} if one["name"] in data else {}) for one in plan["data"]]
        locale = self.locale()
        drawn = vl_convert.vega_to_svg(
            plan | stretched | {"data": sources}, format_locale=locale["format"], time_format_locale=locale["timeFormat"]
        )
        return _renumbered(str(drawn))


VL_VERSION = "6.4"
"""Of the grammar of graphics that specifications are written in."""

_EVERYWHERE = {"$schema": "https://vega.github.io/schema/vega-lite/v6.json", "config": theme.chart_config()}


def _compiled(spec: dict[str, Any]) -> dict[str, Any]:
    import vl_convert  # noqa: PLC0415 - heavy, and only whoever builds a site's script needs it

    plan: dict[str, Any] = vl_convert.vegalite_to_vega(spec | _EVERYWHERE, vl_version=VL_VERSION)
    return plan


def _has_span(spec: dict[str, Any]) -> bool:
    return any(param["name"] == "brush" for param in spec.get("params", ()))


def _spanned(spec: dict[str, Any]) -> dict[str, Any]:
    chosen = {"value": {"x": list(theme.SPAN_MARKS)}}
    return spec | {"params": [param | (chosen if param["name"] == "brush" else {}) for param in spec["params"]]}


def _renumbered(svg: str) -> str:
    """Clip ids from 1: the library counts them up for as long as the process lives, and the same chart is the same bytes."""
    order = {name: f"clip{number}" for number, name in enumerate(dict.fromkeys(re.findall(r"\bclip\d+\b", svg)), 1)}
    return re.sub(r"\bclip\d+\b", lambda found: order[found[0]], svg)
