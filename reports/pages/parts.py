"""The parts that pages are made of: sections that ask and answer, lists of facts, cautions."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from markupsafe import Markup

from reports.markup import filled, joined

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.words import Words


def in_words(text: str) -> Markup:
    """A note in words: its line may end between them, which that of an interval may not."""
    return Markup('<span class="words">{}</span>').format(text) if text else Markup("")


def paragraph(text: str | Markup, kind: str = "") -> Markup:
    """A paragraph."""
    return filled('<p class="{}">{}</p>', kind, text) if kind else filled("<p>{}</p>", text)


def section(
    question: str, answer: str | Markup, *blocks: str | Markup, anchor: str = "", by_group: Mapping[str, str] | None = None
) -> Markup:
    """A section: its question stands in the margin, its answer leads, the evidence follows.

    Parameters
    ----------
    question : str
        Short heading, best a question.
    answer : str or Markup
        First sentence; empty: none.
    blocks : Markup
    anchor : str
        Id for links.
    by_group : mapping of str, optional
        The answer for the players of each group alone: the script shows that of the group that is chosen.
    """
    identity = filled(' id="{}"', anchor) if anchor else ""
    lead = paragraph(answer, "answer") if answer else Markup("")
    if by_group:
        lead = filled('<p class="answer" data-group="">{}</p>', answer) if answer else Markup("")
        lead += joined(
            [filled('<p class="answer" data-group="{}" hidden>{}</p>', group, told) for group, told in by_group.items() if told]
        )
    return filled('<section{}><h2>{}</h2><div class="matter">{}{}</div></section>', identity, question, lead, joined(blocks))


def bullets(items: Sequence[str | Markup], kind: str = "") -> Markup:
    """A list; nothing when it is empty."""
    if not items:
        return Markup("")
    inner = joined(filled("<li>{}</li>", item) for item in items)
    return filled('<ul class="{}">{}</ul>', kind, inner) if kind else filled("<ul>{}</ul>", inner)


def facts(pairs: Sequence[tuple[str, str | Markup]]) -> Markup:
    """Names and values side by side."""
    inner = joined(filled("<div><dt>{}</dt><dd>{}</dd></div>", name, value) for name, value in pairs)
    return filled('<dl class="facts">{}</dl>', inner) if pairs else Markup("")


def link(href: str, text: str | Markup) -> Markup:
    """A link. ``href`` is made by us from file-safe ids; it is escaped all the same."""
    return filled('<a href="{}">{}</a>', href, text)


def folded(words: Words, summary: str, *blocks: str | Markup) -> Markup:
    """Something that is opened on demand; paper says that it is left out, unless it was open."""
    return filled(
        '<details class="folded"><summary>{}<span class="unprinted">{}</span></summary>{}</details>',
        summary,
        words("figure.unprinted"),
        joined(blocks),
    )


def evidence(summary: str, *blocks: str | Markup) -> Markup:
    """Charts and numbers behind a section's answer, opened on demand and left out on paper; nothing without blocks."""
    if not blocks:
        return Markup("")
    return filled('<details class="evidence-fold"><summary>{}</summary>{}</details>', summary, joined(blocks))


def prompt_care(words: Words) -> Markup:
    """The list of signs that want prompt care: static, in full, never computed away [Finucane2020]."""
    groups = ("emergency", "doctor", "young", "wrist")
    inner = Markup("").join(
        Markup("<h3>{}</h3>{}").format(words(f"care.{group}.title"), bullets(words.lines(f"care.{group}.signs")))
        for group in groups
    )
    return Markup('<section class="care"><h2>{}</h2><div class="matter">{}{}</div></section>').format(
        words("care.title"), inner, paragraph(words("care.note"), "quiet-note")
    )


@cache
def cautions(words: Words) -> Markup:
    """The cautions that stand wherever load or body is shown, with the prompt-care list."""
    lines = Markup("").join(paragraph(line) for line in words.lines("cautions.lines"))
    return Markup('<section class="cautions"><h2>{}</h2><div class="matter">{}</div></section>{}').format(
        words("cautions.title"), lines, prompt_care(words)
    )
