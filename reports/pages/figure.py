"""A chart on a page: heading, drawing, finding, and the data behind it."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from typing import TYPE_CHECKING

from markupsafe import Markup

from reports.chart_rows import ChartRows, chart_rows
from reports.markup import filled

if TYPE_CHECKING:
    from reports.charts import ChartBook, Sets
    from reports.words import Words


def _drawn_by_script(kind: str, data: Sets, alt: str) -> Markup:
    texts = {name: (rows if isinstance(rows, ChartRows) else chart_rows(rows)).text for name, rows in sorted(data.items())}
    payload = "{" + ",".join(f'"{name}":{text}' for name, text in texts.items()) + "}"
    return filled(
        '<div class="chart" data-kind="{}" role="img" aria-label="{}"></div><script type="application/json">{}</script>',
        kind,
        alt,
        Markup(payload),  # noqa: S704 - script_safe leaves no character that could end the element
    )


def _drawn_now(charts: ChartBook, kind: str, data: Sets, alt: str) -> Markup:
    picture = base64.b64encode(charts.svg(kind, data).encode()).decode()
    return filled('<img class="chart" alt="{}" src="data:image/svg+xml;base64,{}">', alt, picture)


@cache
def _span_buttons(words: Words) -> Markup:
    choices = (("3", "figure.last_3"), ("12", "figure.last_12"), ("", "figure.all"))
    buttons = Markup("").join(
        filled(
            '<button type="button" data-months="{}" aria-pressed="{}">{}</button>',
            months,
            "true" if not months else "false",
            words(key),
        )
        for months, key in choices
    )
    return filled('<div class="spans" role="group" aria-label="{}">{}</div>', words("figure.spans"), buttons)


def figure(
    words: Words,
    charts: ChartBook,
    kind: str,
    data: Sets,
    *,
    title: str,
    caption: str,
    alt: str,
    table: Markup | None,
    spans: bool,
    with_scripts: bool,
) -> Markup:
    """See :meth:`reports.pages.context.PageContext.figure`."""
    anchor = "f" + hashlib.sha256(f"{kind}|{title}|{alt}".encode()).hexdigest()[:8]
    drawing = _drawn_by_script(kind, data, alt) if with_scripts else _drawn_now(charts, kind, data, alt)
    behind = (
        filled('<details class="behind"><summary>{}</summary>{}</details>', words("figure.behind"), table)
        if table
        else Markup("")
    )
    buttons = _span_buttons(words) if spans and with_scripts else ""
    return filled(
        '<figure aria-labelledby="{}"><div class="figure-head"><h3 id="{}">{}</h3>{}</div>'
        "{}<figcaption>{}</figcaption>{}</figure>",
        *(anchor, anchor, title, buttons, drawing, caption, behind),
    )
