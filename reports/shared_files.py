"""The files that all pages of a site share: styles, script, the chart library, and the book of chart specifications."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from reports.pages.frame import static_file

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from reports.pages.desk import Desk


@cache
def _chart_library() -> str:
    """The chart library in one file, wrapped so that its names stay its own; needs no network."""
    import vl_convert  # noqa: PLC0415 - heavy, and only a site needs it

    bundle = vl_convert.javascript_bundle(vl_version="6.4")  # type: ignore[call-arg] # its stub forgets the default of snippet
    return f"(function(){{{bundle}}})();\n"


def shared_files(one_desk: Desk) -> dict[str, str]:
    """File name below ``assets/`` to content."""
    return {
        "book.js": one_desk.charts.script(),
        "page.js": static_file("page.js"),
        "print.css": static_file("print.css"),
        "vega.js": _chart_library(),
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
