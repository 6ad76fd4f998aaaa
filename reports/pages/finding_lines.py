"""The lines under a finding, the same on every page: what to do and who, its id, and what was decided."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from reports.findings.flags import next_step
from reports.findings.load_body import standing_word
from reports.findings.order import is_waiting, mark_of
from reports.pages.parts import paragraph

if TYPE_CHECKING:
    from reports.pages.context import PageContext

Row = dict[str, Any]

DECIDE = frozenset({"coach", "physio"})
"""Readers who record decisions."""


def marked(kind: str, text: str) -> Markup:
    """A text beside the mark of an alert, a notice, or good news."""
    return Markup('<span class="mark {}">{}</span>').format(kind, text)


def mark(row: Row, context: PageContext) -> Markup:
    """The mark of a finding."""
    kind = mark_of(row)
    group = "level_own" if context.audience == "player" else "level"
    return marked(kind, context.words(f"{group}.{kind}"))


def what_to_do(row: Row, context: PageContext) -> Markup:
    """One line: who does what about it; nothing while it is decided."""
    text = next_step(row, context.audience, context.words) if is_waiting(row) else ""
    return paragraph(text, "todo") if text else Markup("")


def state_line(row: Row, context: PageContext) -> Markup:
    """The finding's id and the state of its decision."""
    return paragraph(context.words("today.finding", id=row["flag_id"], state=standing_word(row, context.words)), "state")


def record_line(context: PageContext) -> Markup:
    """How a decision is recorded without the desk; nothing for a reader who decides nothing."""
    if context.audience not in DECIDE:
        return Markup("")
    words = context.words
    command = f"speedworth decide {words('today.finding_word')} watch --role {context.audience}"
    return Markup('<p class="state">{} <span class="typed">{}</span></p>').format(words("today.record"), command)
