"""The files that all pages of a site share: styles, script, the chart library, and the book of chart specifications."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.metadata import version
from typing import TYPE_CHECKING

from reports.charts import VL_VERSION
from reports.kept_texts import kept_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from importlib.resources.abc import Traversable

    from reports.pages.context import PageContext


def static_file(name: str) -> str:
    """A file of ``reports/static`` as text."""
    return (resources.files("reports") / "static" / name).read_text(encoding="utf-8")


@cache
def _chart_library() -> str:
    """The chart library in one file, wrapped so that its names stay its own; needs no network."""
    return kept_text(f"library {VL_VERSION} {_versions()}", _bundled_library)


def _bundled_library() -> str:
    import vl_convert  # noqa: PLC0415 - heavy, and only a site needs it

    bundle = vl_convert.javascript_bundle(vl_version=VL_VERSION)  # type: ignore[call-arg] # its stub forgets the default of snippet
    return f"(function(){{{bundle}}})();\n"


def _versions() -> str:
    return f"{version('vl-convert-python')} {version('altair')}"


def _short_hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:10]


@dataclass(frozen=True)
class SharedFiles:
    """Names of the files below ``assets/``; each name changes with its content, so a reader's cache never mixes old and new.

    Attributes
    ----------
    library, book, script, groups, what_if, compare, styles : str
    """

    library: str
    book: str
    script: str
    groups: str
    what_if: str
    compare: str
    styles: str


@cache
def _names(language: str, units: str) -> SharedFiles:
    versions = _versions()
    return SharedFiles(
        f"vega-{_short_hash(versions)}.js",
        f"book-{_short_hash(f'{versions} {program_stamp()} {language} {units}')}.js",
        f"page-{_short_hash(static_file('page.js'))}.js",
        f"groups-{_short_hash(static_file('groups.js'))}.js",
        f"handle-{_short_hash(static_file('what-if.js'))}.js",
        f"compare-{_short_hash(static_file('compare.js'))}.js",
        f"print-{_short_hash(static_file('print.css'))}.css",
    )


def shared_names(one_context: PageContext) -> SharedFiles:
    """What the shared files of a site are called."""
    return _names(one_context.words.language, repr(one_context.academy.units))


def _chart_book(one_context: PageContext, name: str) -> str:
    """The book of that name, which tells program, language and units; its texts may be others where somebody adds to them."""
    texts = _short_hash(repr(sorted(one_context.words.texts.items())))
    return kept_text(f"{name} {texts}", one_context.charts.script)


def shared_files(one_context: PageContext) -> dict[str, Callable[[], str]]:
    """File name below ``assets/`` to what makes its content; two of them take a second each, and are made only when new."""
    names = shared_names(one_context)
    return {
        names.book: lambda: _chart_book(one_context, names.book),
        names.script: lambda: static_file("page.js"),
        names.groups: lambda: static_file("groups.js"),
        names.what_if: lambda: static_file("what-if.js"),
        names.compare: lambda: static_file("compare.js"),
        names.styles: lambda: static_file("print.css"),
        names.library: _chart_library,
    }


def _files(folder: Traversable) -> list[Traversable]:
    found: list[Traversable] = []
    for item in sorted(folder.iterdir(), key=lambda each: each.name):
        if item.is_dir() and item.name not in {"__pycache__", "pictures"}:
            found.extend(_files(item))
        elif item.name.endswith((".py", ".toml", ".html", ".css", ".js")):
            found.append(item)
    return found


@cache
def program_stamp() -> str:
    """A checksum of this package: when the program changes, every page is made anew."""
    digest = hashlib.sha256()
    for item in _files(resources.files("reports")):
        digest.update(item.name.encode())
        digest.update(item.read_bytes())
    return digest.hexdigest()
