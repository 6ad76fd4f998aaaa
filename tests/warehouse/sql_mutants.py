"""Mutants of a query: one predicate, join condition, distinct, coalesce or branch less, or one comparison turned, at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlglot import exp

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Change = Callable[[exp.Expression], None]

_TURNED: dict[type[exp.Expression], type[exp.Expression]] = {
    exp.LT: exp.LTE,
    exp.LTE: exp.LT,
    exp.GT: exp.GTE,
    exp.GTE: exp.GT,
    exp.EQ: exp.NEQ,
    exp.NEQ: exp.EQ,
    exp.NullSafeEQ: exp.EQ,
    exp.Add: exp.Sub,
    exp.Sub: exp.Add,
    exp.Mul: exp.Div,
    exp.Div: exp.Mul,
    exp.Max: exp.Min,
    exp.Min: exp.Max,
    exp.Sum: exp.Max,
    exp.ArgMax: exp.ArgMin,
    exp.ArgMin: exp.ArgMax,
    exp.First: exp.Last,
    exp.Last: exp.First,
}
_UNITS = {"week": "month", "month": "week"}
_ALONE = (exp.Where, exp.Having, exp.Qualify)


def _put(replacement: Callable[[exp.Expression], exp.Expression]) -> Change:
    return lambda node: (node.replace(replacement(node)), None)[1]


def _short(node: exp.Expression) -> str:
    return node.sql(dialect="duckdb")


def _taken_out(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    """Without one side of an and, an or, or with nothing where a condition stands alone."""
    if isinstance(node, exp.And | exp.Or):
        for side, other in (("this", "expression"), ("expression", "this")):
            if not isinstance(node.args[side].unnest(), type(node)):
                yield f"without {_short(node.args[side])}", _put(lambda here, other=other: here.args[other])
    if isinstance(node, _ALONE) and not isinstance(node.this, exp.And):
        yield f"without {_short(node)}", lambda here: here.set("this", exp.true())
    if isinstance(node, exp.Join) and node.args.get("on") is not None and not isinstance(node.args["on"], exp.And):
        yield f"without {_short(node.args['on'])}", lambda here: here.set("on", exp.true())
    if isinstance(node, exp.Not):
        yield f"not taken from {_short(node)}", _put(lambda here: here.this)
    if isinstance(node, exp.Is) and not isinstance(node.parent, exp.Not):
        yield f"{_short(node)} -> not", _put(lambda here: exp.Not(this=here.copy()))
    if isinstance(node, exp.In) and len(node.expressions) > 1:
        for at, item in enumerate(node.expressions):
            yield f"{_short(node)} without {_short(item)}", lambda here, at=at: here.expressions.pop(at)


def _joined(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    if not isinstance(node, exp.Join):
        return
    using = node.args.get("using") or []
    for at, column in enumerate(using):
        rest = [other for place, other in enumerate(using) if place != at]
        told = f"{_short(node)} without {_short(column)}"
        if rest:
            yield told, lambda here, at=at: here.args["using"].pop(at)
        else:
            yield told, lambda here: (here.set("using", None), here.set("on", exp.true()), None)[2]
    if node.side:
        yield f"{_short(node)} -> inner join", lambda here: here.set("side", None)
    elif node.kind in {"ANTI", "SEMI"}:
        other = "SEMI" if node.kind == "ANTI" else "ANTI"
        yield f"{_short(node)} -> {other.lower()} join", lambda here: here.set("kind", other)
    elif using or node.args.get("on") is not None:
        yield f"{_short(node)} -> left join", lambda here: here.set("side", "LEFT")
    if node.side == "FULL":
        yield f"{_short(node)} -> left join", lambda here: here.set("side", "LEFT")
        yield f"{_short(node)} -> right join", lambda here: here.set("side", "RIGHT")


def _not_distinct(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    if isinstance(node, exp.Select) and node.args.get("distinct") is not None:
        yield f"not distinct: {_short(node)[:60]}", lambda here: here.set("distinct", None)
    if isinstance(node, exp.Count) and isinstance(node.this, exp.Distinct):
        yield f"not distinct: {_short(node)}", lambda here: here.set("this", here.this.expressions[0])
    if isinstance(node, exp.Union) and node.args.get("distinct"):
        yield "union -> union all", lambda here: here.set("distinct", False)


def _thinned(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    """Without a branch of a case or of a union, a value of a coalesce, a key of a window."""
    if isinstance(node, exp.Union):
        for side, other in (("this", "expression"), ("expression", "this")):
            if isinstance(node.args[side], exp.Select):
                yield f"without the branch {_short(node.args[side])[:80]}", _put(lambda here, other=other: here.args[other])
    if isinstance(node, exp.Coalesce | exp.Greatest | exp.Least):
        values = [node.this, *node.expressions]
        for at, value in enumerate(values):
            yield f"{_short(node)} without {_short(value)}", _put(lambda here, at=at: _fewer(here, at))
    if isinstance(node, exp.Nullif):
        yield f"{_short(node)} -> its value", _put(lambda here: here.this)
    if isinstance(node, exp.Window):
        for at, key in enumerate(node.args.get("partition_by") or []):
            yield f"{_short(node)} without partition by {_short(key)}", lambda here, at=at: here.args["partition_by"].pop(at)


def _fewer_branches(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    if isinstance(node, exp.Case):
        for at, branch in enumerate(node.args["ifs"]):
            yield f"case without {_short(branch)}", _put(lambda here, at=at: _without_branch(here, at))
        if node.args.get("default") is not None:
            yield f"case without else {_short(node.args['default'])}", lambda here: here.set("default", None)


def _fewer(node: exp.Expression, at: int) -> exp.Expression:
    rest = [value for place, value in enumerate([node.this, *node.expressions]) if place != at]
    return rest[0] if len(rest) == 1 else type(node)(this=rest[0], expressions=rest[1:])


def _without_branch(node: exp.Expression, at: int) -> exp.Expression:
    rest = [branch for place, branch in enumerate(node.args["ifs"]) if place != at]
    if not rest:
        return node.args.get("default") or exp.null()
    return exp.Case(this=node.this, ifs=rest, default=node.args.get("default"))


def _turned(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    turned = _TURNED.get(type(node))
    if turned is not None:
        yield f"{_short(node)} -> {turned.__name__}", _put(lambda here: turned(**here.args))
    if isinstance(node, exp.Between):
        low, high = node.args["low"], node.args["high"]
        yield f"{_short(node)} without {_short(low)}", _put(lambda here: exp.LTE(this=here.this, expression=here.args["high"]))
        yield f"{_short(node)} without {_short(high)}", _put(lambda here: exp.GTE(this=here.this, expression=here.args["low"]))
        yield f"{_short(node)} behind {_short(low)}", _put(lambda here: _open(here, exp.GT, exp.LTE))
        yield f"{_short(node)} before {_short(high)}", _put(lambda here: _open(here, exp.GTE, exp.LT))
    if isinstance(node, exp.Ordered):
        alone = len(node.parent.expressions) == 1
        yield (
            f"{_short(node)} turned",
            lambda here: (here.set("desc", not here.args.get("desc")), here.set("nulls_first", None))[1],
        )
        if not alone:
            yield f"order without {_short(node)}", lambda here: here.parent.expressions.remove(here)


def _open(node: exp.Expression, above: type[exp.Expression], below: type[exp.Expression]) -> exp.Expression:
    low = above(this=node.this.copy(), expression=node.args["low"])
    return exp.Paren(this=exp.And(this=low, expression=below(this=node.this.copy(), expression=node.args["high"])))


def _other_value(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    """Another whole number, another unit of the calendar; nothing in place of what a column of the result computes."""
    if isinstance(node, exp.Literal) and node.this.isdigit() and not isinstance(node.parent, exp.Select | exp.Distinct):
        more = str(int(node.this) + 1)
        within = _short(node.parent)
        yield f"{node.this} -> {more} in {within}", lambda here: here.set("this", more)
    if isinstance(node, exp.DateTrunc | exp.TimestampTrunc):
        unit = str(node.args["unit"].name).lower()
        if unit in _UNITS:
            yield f"{_short(node)} by {_UNITS[unit]}", lambda here: here.set("unit", exp.Var(this=_UNITS[unit]))
    if isinstance(node, exp.Alias) and _is_outermost(node.parent) and not (_keeps_its_name(node) or _is_nothing(node.this)):
        yield f"nothing as {node.alias}", lambda here: here.set("this", exp.null())


def _is_outermost(select: exp.Expression | None) -> bool:
    while isinstance(select, exp.Select | exp.Union) and isinstance(select.parent, exp.Union):
        select = select.parent
    return isinstance(select, exp.Select | exp.Union) and select.parent is None


def _is_nothing(node: exp.Expression) -> bool:
    return isinstance(node, exp.Null) or (isinstance(node, exp.Cast) and _is_nothing(node.this))


def _keeps_its_name(node: exp.Alias) -> bool:
    return isinstance(node.this, exp.Column) and node.this.name == node.alias


_OPERATORS = (_taken_out, _joined, _not_distinct, _thinned, _fewer_branches, _turned, _other_value)


def mutants(tree: exp.Expression) -> dict[str, str]:
    """What was changed -> the changed query."""
    found: dict[str, str] = {}
    seen = {_short(tree)}
    for index, node in enumerate(tree.walk()):
        for operators in _OPERATORS:
            for told, change in operators(node):
                changed = tree.copy()
                target = next(other for place, other in enumerate(changed.walk()) if place == index)
                if target.parent is None:
                    continue
                change(target)
                sql = _short(changed)
                if sql not in seen:
                    seen.add(sql)
                    found[_free(told, found)] = sql
    return found


def _free(told: str, found: dict[str, str]) -> str:
    told = " ".join(told.split())
    number = 2
    name = told
    while name in found:
        name, number = f"{told} ({number})", number + 1
    return name
