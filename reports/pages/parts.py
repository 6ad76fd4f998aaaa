"""The parts that pages are made of: sections that ask and answer, lists of facts, cautions."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from reports.words import Words


def joined(blocks: Iterable[str | Markup]) -> Markup:
    """Blocks one after another; plain text is escaped."""
    return Markup("").join(escape(block) for block in blocks)


def paragraph(text: str | Markup, kind: str = "") -> Markup:
    """A paragraph."""
    return Markup("<p{}>{}</p>").format(Markup(' class="{}"').format(kind) if kind else "", text)


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
    identity = Markup(' id="{}"').format(anchor) if anchor else Markup("")
    lead = paragraph(answer, "answer") if answer else Markup("")
    if by_group:
        lead = Markup('<p class="answer" data-group="">{}</p>').format(answer) if answer else Markup("")
        lead += joined(
            [
                Markup('<p class="answer" data-group="{}" hidden>{}</p>').format(group, told)
                for group, told in by_group.items()
                if told
            ]
        )
    return Markup('<section{}><h2>{}</h2><div class="matter">{}{}</div></section>').format(
        identity, question, lead, joined(blocks)
    )


def bullets(items: Sequence[str | Markup], kind: str = "") -> Markup:
    """A list; nothing when it is empty."""
    if not items:
        return Markup("")
    inner = Markup("").join(Markup("<li>{}</li>").format(item) for item in items)
    return Markup("<ul{}>{}</ul>").format(Markup(' class="{}"').format(kind) if kind else "", inner)


def facts(pairs: Sequence[tuple[str, str | Markup]]) -> Markup:
    """Names and values side by side."""
    inner = Markup("").join(Markup("<div><dt>{}</dt><dd>{}</dd></div>").format(name, value) for name, value in pairs)
    return Markup('<dl class="facts">{}</dl>').format(inner) if pairs else Markup("")


def link(href: str, text: str | Markup) -> Markup:
    """A link. ``href`` is made by us from file-safe ids; it is escaped all the same."""
    return Markup('<a href="{}">{}</a>').format(href, text)


def folded(words: Words, summary: str, *blocks: str | Markup) -> Markup:
    """Something that is opened on demand; paper says that it is left out, unless it was open."""
    return Markup('<details class="folded"><summary>{}<span class="unprinted">{}</span></summary>{}</details>').format(
        summary, words("figure.unprinted"), joined(blocks)
    )


def evidence(summary: str, *blocks: str | Markup) -> Markup:
    """Charts and numbers behind a section's answer, opened on demand and left out on paper; nothing without blocks."""
    if not blocks:
        return Markup("")
    return Markup('<details class="evidence-fold"><summary>{}</summary>{}</details>').format(summary, joined(blocks))


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
