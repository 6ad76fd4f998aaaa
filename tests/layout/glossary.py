"""The glossary of DEVELOPERS.md: one meaning for each term, and the words that are not used for it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
_HEAD = "| term | means | German | not | nicht |"


@dataclass(frozen=True)
class Term:
    """One line: the term, its meaning, the German word, and the synonyms that neither pages nor names in code use."""

    term: str
    means: str
    german: str
    forbidden: tuple[str, ...]
    forbidden_german: tuple[str, ...]


def _listed(cell: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in cell.split(",") if word.strip() not in {"", "-"})


def glossary() -> tuple[Term, ...]:
    lines = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()
    rows = lines[lines.index(_HEAD) + 2 :]
    table = rows[: next(number for number, line in enumerate(rows) if not line.startswith("|"))]
    cells = ([cell.strip() for cell in line.strip("|").split("|")] for line in table)
    return tuple(Term(term, means, german, _listed(no), _listed(nein)) for term, means, german, no, nein in cells)


def used(word: str, text: str) -> bool:
    """Whether a text has a word that begins so, in any case; values that are filled in are no part of it."""
    return re.search(rf"\b{re.escape(word)}", re.sub(r"\{\w*\}", " ", text), re.IGNORECASE) is not None


def wrong_in_texts(texts: dict[str, str], forbidden: tuple[str, ...]) -> list[tuple[str, str]]:
    """Key and synonym of each text that uses one."""
    return [(key, word) for key, text in sorted(texts.items()) for word in forbidden if used(word, text)]


def names_in(tree: ast.AST) -> Iterator[str]:
    """Names that a module gives: of functions, classes, parameters and variables."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id


def wrong_in_names(names: Iterator[str], forbidden: tuple[str, ...]) -> list[tuple[str, str]]:
    """Name and synonym, where the words of the name hold it: ``n_alarms``, ``AlarmStep``."""
    spelled = {name: " ".join(re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])", name)).lower() for name in set(names)}
    return [(name, word) for name, words in sorted(spelled.items()) for word in forbidden if used(word, words)]
