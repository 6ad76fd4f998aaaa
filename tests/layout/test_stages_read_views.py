"""What a stage selects is a view or a table, filtered by bound parameters: whatever decides anything stands in a view."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest
import sqlglot
from sqlglot import exp

ROOT = Path(__file__).parents[2]
MODULES = sorted((ROOT / "pipelines").rglob("*.py"))
_DECIDING = (exp.Join, exp.Union, exp.Subquery, exp.Case, exp.Coalesce, exp.AggFunc, exp.Distinct, exp.Group, exp.Window, exp.Or)
_COMPARED = (exp.Column, exp.Placeholder, exp.Where, exp.And, exp.Predicate, exp.ArrayContains, exp.Identifier)


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) if isinstance(part, ast.Constant) else "inserted" for part in node.values)
    return ""


@cache
def _queries(path: Path) -> list[str]:
    code = path.read_text(encoding="utf-8")
    if "select" not in code:
        return []
    tree = ast.parse(code)
    nodes = [node for node in ast.walk(tree) if isinstance(node, ast.Constant | ast.JoinedStr)]
    parts = {id(part) for node in nodes if isinstance(node, ast.JoinedStr) for part in node.values}
    texts = (_text(node) for node in nodes if id(node) not in parts)
    return [text.strip() for text in texts if re.match(r"\s*(select|with)\s.*\bfrom\b.*", text, re.DOTALL) and "select" in text]


def deciding(sql: str) -> list[str]:
    """What of a query decides something, or compares with a value that is not bound."""
    tree = sqlglot.parse_one(sql, read="duckdb")
    found = [node.sql() for node in tree.find_all(*_DECIDING) if node.sql() != "COUNT(*)"]
    where = tree.args.get("where")
    return found + [node.sql() for node in (where.walk() if where else ()) if not isinstance(node, _COMPARED)]


@pytest.mark.parametrize("path", [path for path in MODULES if _queries(path)], ids=lambda path: str(path.relative_to(ROOT)))
def test_a_stage_selects_from_a_view_and_decides_nothing(path: Path) -> None:
    assert {query: deciding(query) for query in _queries(path) if deciding(query)} == {}, "move it into warehouse/views/core"


def test_what_decides_would_be_seen() -> None:
    assert deciding("select a from b where c <= ? and d = ? order by a") == []
    for sql in (
        "select a from b join c using (d)",
        "select distinct a from b",
        "select a from b where c = 'driver'",
        "select a from b where c is null or d = ?",
        "select coalesce(a, 0) from b",
        "select max(a) from b",
    ):
        assert deciding(sql)
