"""What a printed page looks like, read back from the PDF that the browser makes: size of letters, how full a side is, its end."""

from __future__ import annotations

import math
import re
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pypdfium2
import pypdfium2.raw as pdfium

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Page

MEASURE = (Path(__file__).parent / "measure.js").read_text(encoding="utf-8")
TEXTS = "selector => [...document.querySelectorAll(selector)].map(e => e.textContent.replace(/\\s+/g, ''))"
LEAST_PT = 7.0
LEAST_FULL = 1 / 3
MARGIN_PT = 42.0
"""What lies within 15 mm of an upper or lower edge is head or page number."""
LINE_PT = 9.0
"""Height of a line of text."""


@dataclass(frozen=True)
class Side:
    """One printed side.

    Attributes
    ----------
    smallest_pt : float
        Size of its smallest letters.
    smallest : str
        A text of that size.
    full : float
        How far down it reaches, as a share of the room between the margins.
    last_line, last_lines : str
        The lowest line of text; the two lowest.
    """

    smallest_pt: float
    smallest: str
    full: float
    last_line: str
    last_lines: str


def _side(page: pypdfium2.PdfPage) -> Side:
    text, (_, height) = page.get_textpage(), page.get_size()
    smallest, smallest_text, lowest = math.inf, "", height - MARGIN_PT
    lines: list[tuple[float, float, str]] = []
    for number in range(text.count_rects()):
        left, bottom, right, top = text.get_rect(number)
        words = text.get_text_bounded(left, bottom, right, top).strip()
        if not words or top < MARGIN_PT or bottom > height - MARGIN_PT / 2:
            continue
        at = pdfium.FPDFText_GetCharIndexAtPos(text.raw, (left + right) / 2, (bottom + top) / 2, 8, 8)
        size = _size(text, max(at, 0))
        if size < smallest:
            smallest, smallest_text = size, words
        lines.append((bottom, left, words))
    for thing in page.get_objects(max_depth=4):
        left, bottom, right, top = thing.get_bounds()
        if top - bottom < height * 0.9 and bottom > MARGIN_PT / 2:
            lowest = min(lowest, bottom)
    room = height - 2 * MARGIN_PT
    last, width = (min(lines)[0] if lines else 0.0), page.get_size()[0]
    ending = text.get_text_bounded(0, last - 1, width, last + LINE_PT).strip()
    above = text.get_text_bounded(0, last - 1, width, last + 2.6 * LINE_PT).strip()
    return Side(smallest, smallest_text, (height - MARGIN_PT - lowest) / room, ending, above)


def _size(text: pypdfium2.PdfTextPage, index: int) -> float:
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFText_GetMatrix(text.raw, index, matrix)
    scale = math.sqrt(abs(matrix.a * matrix.d - matrix.b * matrix.c)) or 1.0
    return float(pdfium.FPDFText_GetFontSize(text.raw, index)) * scale


@contextmanager
def _printed(page: Page, size: str = "A4") -> Iterator[pypdfium2.PdfDocument]:
    document = pypdfium2.PdfDocument(page.pdf(format=size, prefer_css_page_size=True))
    try:
        yield document
    finally:
        document.close()


def sides(page: Page, size: str = "A4") -> list[Side]:
    """The sides on which the page is printed."""
    with _printed(page, size) as document:
        return [_side(each) for each in document]


def printed_text(page: Page, side: int | None = None) -> str:
    """The words of all sides, or of one, counted from 0."""
    with _printed(page) as document:
        texts = [" ".join(each.get_textpage().get_text_bounded().split()) for each in document]
    return " ".join(texts) if side is None else texts[side]


def on_paper(page: Page) -> list[str]:
    """What is wrong with the printed page: small letters, a heading left alone at the end of a side, a side hardly begun."""
    headings, heads = (page.evaluate(TEXTS, selector) for selector in ("h2, h3, caption:not(.quiet)", "thead"))
    found = []
    printed = sides(page)
    for number, side in enumerate(printed, 1):
        of = f"side {number} of {len(printed)}"
        if side.smallest_pt < LEAST_PT - 0.05:
            found.append(f'small print: {side.smallest_pt:.1f} pt "{side.smallest[:40]}" on {of}')
        if number < len(printed):
            if side.full < LEAST_FULL:
                found.append(f"empty side: {side.full:.2f} of {of}")
            ending, more = (re.sub(r"\s+", "", text) for text in (side.last_line, side.last_lines))
            # A heading stands alone in its line, or its last lines do: a wrapped cell may end as a heading does.
            ends = {text for text in headings if text == ending or text.endswith(more)} | {
                text for text in heads if text.endswith(ending)
            }
            if len(ending) > 2 and ends:
                found.append(f'parted heading: "{side.last_line[:50]}" ends {of}')
    page.emulate_media(media="print")
    return found + list(page.evaluate(MEASURE))
