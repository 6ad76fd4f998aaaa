"""Which definitions a command, a run, a stage, a page or the demo reaches, by the names that code uses."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("schemas", "warehouse", "pipelines", "reports")
STARTS = (
    "pipelines.cli",
    "pipelines.runs",
    "pipelines.stages",
    "pipelines.flows",
    "pipelines.desk",
    "pipelines.demo",
    "reports.pages",
)
"""Where a user's wish enters the code: everything that these define counts as reached."""

Symbol = tuple[str, str]
"""Module and name; methods are ``Class.method``; the code of a module itself is an empty name."""


@dataclass
class Module:
    """What one module defines, imports and uses."""

    name: str
    uses: dict[str, set[tuple[str, ...]]] = field(default_factory=dict)
    imported: dict[str, str] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def _paths(nodes: Iterator[ast.AST]) -> set[tuple[str, ...]]:
    """Names used, with the attributes taken of them: ``values.decimal_sign`` is ``("values", "decimal_sign")``."""
    found: set[tuple[str, ...]] = set()
    for node in nodes:
        if isinstance(node, ast.Name):
            found.add((node.id,))
        elif isinstance(node, ast.Attribute):
            path = [node.attr]
            inner: ast.expr = node.value
            while isinstance(inner, ast.Attribute):
                path.append(inner.attr)
                inner = inner.value
            found.add((*([inner.id] if isinstance(inner, ast.Name) else ["?"]), *reversed(path)))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.isidentifier():
            found.add(("?", node.value))  # a name in text, as in ``getattr``
    return found


def read_module(path: Path) -> Module:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    module = Module(module_name(path))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            module.imported |= {alias.asname or alias.name: f"{node.module}:{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            module.imported |= {(alias.asname or alias.name).split(".")[0]: alias.name for alias in node.names}
    outside: list[ast.AST] = []
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            module.uses[node.name] = _paths(ast.walk(node))
            module.lines[node.name] = (node.end_lineno or 0) - node.lineno + 1
        elif isinstance(node, ast.ClassDef):
            methods = [inner for inner in node.body if isinstance(inner, ast.FunctionDef)]
            rest = [inner for inner in node.body if inner not in methods] + node.bases + node.decorator_list
            module.uses[node.name] = _paths(item for part in rest for item in ast.walk(part))
            module.lines[node.name] = (node.end_lineno or 0) - node.lineno + 1
            for method in methods:
                module.uses[f"{node.name}.{method.name}"] = _paths(ast.walk(method))
                module.lines[f"{node.name}.{method.name}"] = (method.end_lineno or 0) - method.lineno + 1
        elif not isinstance(node, ast.Import | ast.ImportFrom):
            outside += list(ast.walk(node))
    module.uses[""] = _paths(iter(outside))
    return module


def modules() -> dict[str, Module]:
    paths = [path for package in PACKAGES for path in (ROOT / package).rglob("*.py")]
    return {module.name: module for module in map(read_module, paths)}


def _home(known: dict[str, Module], module: str, name: str) -> Symbol | None:
    """Where a name that a module offers is defined, through re-exports."""
    seen = set()
    while (module, name) not in seen and module in known:
        seen.add((module, name))
        if name in known[module].uses:
            return module, name
        if f"{module}.{name}" in known:
            return f"{module}.{name}", ""
        target = known[module].imported.get(name)
        if target is None:
            return module, ""  # a constant
        module, _, name = target.partition(":")
    return None


def _targets(known: dict[str, Module], module: Module, path: tuple[str, ...]) -> Iterator[Symbol]:
    first = path[0]
    if first in module.uses and first:
        yield module.name, first
    target = module.imported.get(first)
    if target is None:
        return
    source, _, name = target.partition(":")
    home = _home(known, source, name) if name else (source, "") if source in known else None
    while home is not None and home[1] == "" and len(path) > 1:  # a module: go on with what is taken of it
        yield home
        path = path[1:]
        home = _home(known, home[0], path[0])
    if home is not None:
        yield home


def reached(known: dict[str, Module]) -> set[Symbol]:
    """Every definition that is reached from :data:`STARTS`; a method when its class is and its name is used somewhere."""
    waiting: list[Symbol] = [
        (name, symbol) for name, module in known.items() if name.startswith(STARTS) for symbol in module.uses if "." not in symbol
    ]
    found: set[Symbol] = set()
    attributes: set[str] = set()
    methods: dict[str, list[Symbol]] = {}
    for name, module in known.items():
        for symbol in module.uses:
            if "." in symbol:
                methods.setdefault(symbol.split(".")[1], []).append((name, symbol))
    while waiting:
        one = waiting.pop()
        if one in found or one[0] not in known or one[1] not in known[one[0]].uses:
            continue
        found.add(one)
        module = known[one[0]]
        waiting.append((one[0], ""))
        for path in module.uses[one[1]]:
            waiting += _targets(known, module, path)
            attributes |= set(path[1:])
        waiting += [
            (home, symbol)
            for method in attributes | {name for name in methods if name.startswith("__")}
            for home, symbol in methods.get(method, [])
            if (home, symbol) not in found and (home, symbol.split(".")[0]) in found
        ]
    return found
