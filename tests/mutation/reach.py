"""Which lines of the source a place in it is used from: its statement, or where a name of its module is used."""

from __future__ import annotations

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path

_FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


class Reach:
    """Knows, for all files under a folder, in which lines of functions each name is used."""

    def __init__(self, folder: Path, root: Path) -> None:
        self.root = root
        self._lines: dict[str, dict[str, set[int]]] = defaultdict(lambda: defaultdict(set))
        self._names: dict[str, set[str]] = defaultdict(set)
        for path in sorted(folder.rglob("*.py")):
            self._take_in(path)

    def _take_in(self, path: Path) -> None:
        file = str(path.relative_to(self.root))
        for statement in ast.parse(path.read_text(encoding="utf-8")).body:
            owners = _named(statement)
            for node in ast.walk(statement):
                name = node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else None
                if name is None or not isinstance(node, ast.expr):
                    continue
                if _inside_function(statement, node):
                    self._lines[name][file].add(node.lineno)
                for owner in owners - {name}:
                    self._names[name].add(owner)

    def lines_of(self, file: str, line: int) -> dict[str, set[int]]:
        """The lines by file whose tests can see a change in this line."""
        statement = self._statement(file, line)
        inner = _innermost(statement, line)
        return self.uses_of(file, line) if inner is None else {file: inner}

    def uses_of(self, file: str, line: int) -> dict[str, set[int]]:
        """The lines of functions by file in which the names are used that the statement of the module makes."""
        statement = self._statement(file, line)
        found: dict[str, set[int]] = defaultdict(set)
        seen: set[str] = set()
        waiting = list(_named(statement))
        while waiting:
            name = waiting.pop()
            if name in seen:
                continue
            seen.add(name)
            for where, lines in self._lines[name].items():
                if where == file or not name.startswith("_"):
                    found[where] |= lines
            waiting += self._names[name]
        return found

    def _statement(self, file: str, line: int) -> ast.stmt:
        body = _body(self.root / file)
        return next((one for one in body if _first(one) <= line <= (one.end_lineno or one.lineno)), body[-1])


@cache
def _body(path: Path) -> list[ast.stmt]:
    return ast.parse(path.read_text(encoding="utf-8")).body


def _first(node: ast.stmt) -> int:
    return min([node.lineno, *(one.lineno for one in getattr(node, "decorator_list", []))])


def _named(statement: ast.stmt) -> set[str]:
    """The names that a statement of a module makes."""
    if isinstance(statement, ast.Assign):
        return {one.id for target in statement.targets for one in ast.walk(target) if isinstance(one, ast.Name)}
    if isinstance(statement, ast.AnnAssign) and isinstance(statement.target, ast.Name):
        return {statement.target.id}
    if isinstance(statement, (*_FUNCTIONS, ast.ClassDef)):
        return {statement.name}
    return set()


def _inside_function(statement: ast.stmt, node: ast.expr) -> bool:
    return any(
        isinstance(one, _FUNCTIONS) and one.body[0].lineno <= node.lineno <= (one.end_lineno or one.lineno)
        for one in ast.walk(statement)
    )


def _innermost(statement: ast.stmt, line: int) -> set[int] | None:
    """The lines of the statement of a function that a line is part of; all of the body for what is above it."""
    functions = [
        one
        for one in ast.walk(statement)
        if isinstance(one, _FUNCTIONS) and _first(one) <= line <= (one.end_lineno or one.lineno)
    ]
    if not functions:
        return None
    function = max(functions, key=_first)
    if line < function.body[0].lineno:
        return set(range(function.body[0].lineno, (function.end_lineno or function.lineno) + 1))
    best = None
    for one in ast.walk(function):
        if isinstance(one, ast.stmt) and one is not function and one.lineno <= line <= (one.end_lineno or one.lineno):
            is_compound = hasattr(one, "body")
            lines = set(range(one.lineno, one.body[0].lineno if is_compound else (one.end_lineno or one.lineno) + 1))
            if line in lines:
                best = lines
    return best or {line}
