"""Where in the files of a plugin things are declared, from the text of the files alone."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Sequence
from functools import cached_property
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import Place
from bevelbook.declare.late_pattern import late_pattern

_NAMED: Final = late_pattern(r"\b(?:calculator|chart|reference table|profile) '([^']+)'")
_HOOK: Final = late_pattern(r"\b(bevelbook_\w+)\b")
_QUOTED: Final = late_pattern(r"'([^']+)'")
_FIELD: Final = late_pattern(r"\b(?:(\w+)\.)?(\w+) is declared\b")
_AT: Final = late_pattern(r"\(([^()]+\.py), line (\d+)\)")
_EXAMPLE: Final = late_pattern(r"calculator '([^']+)': worked example (\d+)")


class DeclaredLines:
    """The files of one plugin, of which the first is its module. They are read when a line is asked for."""

    def __init__(self, files: Sequence[Path]) -> None:
        self._files = tuple(files)

    @property
    def module(self) -> Place:
        """The first line of the plugin's module."""
        return Place(str(self._files[0]), 1) if self._files else Place()

    @property
    def docstring(self) -> str | None:
        """What the module says it is for, empty where it says nothing; None where it cannot be read."""
        tree = self._trees.get(self._files[0]) if self._files else None
        return None if tree is None else ast.get_docstring(tree) or ""

    def calculator(self, name: str) -> Place:
        """Where a calculator is declared; the module, where its text does not say."""
        found = self._calculator_call(name)
        return self.module if found is None else Place(str(found[0]), found[1].lineno)

    def example(self, name: str, number: int) -> Place:
        """Where a worked example of a calculator is declared; ``number`` counts from 1."""
        found = self._calculator_call(name)
        if found is None:
            return self.module
        file, call = found
        inside = _calls(call, "Worked")
        beside = _calls(self._trees[file], "Worked")
        calls = inside if len(inside) >= number else beside
        return Place(str(file), calls[number - 1].lineno if len(calls) >= number else call.lineno)

    def part(self, name: str, part: str) -> Place:
        """Where a part of a calculator is given, such as ``valid``."""
        found = self._calculator_call(name)
        if found is None:
            return self.module
        file, call = found
        lines = [one.value.lineno for one in call.keywords if one.arg == part]
        return Place(str(file), lines[0] if lines else call.lineno)

    def field(self, record: str | None, field: str) -> Place:
        """Where a field of a record, or of any, is declared; the module, where its text does not say."""
        for file, tree in self._trees.items():
            for node in ast.walk(tree):
                if isinstance(node, ast.ClassDef) and record in (None, node.name):
                    for line in node.body:
                        if isinstance(line, ast.AnnAssign) and _name(line.target) == field:
                            return Place(str(file), line.lineno)
        return self.module

    def named_in(self, reason: str) -> Place:
        """Where what a reason names is declared: the line that it gives itself, else a field, a hook, or what has the
        name in its quotes."""
        if example := _EXAMPLE.search(reason):
            return self.example(example[1], int(example[2]))
        if named := _FIELD.search(reason):
            place = self.field(named[1], named[2])
            if place != self.module:
                return place
        if (at := _AT.search(reason)) and (file := self._file_named(at[1])):
            return Place(str(file), int(at[2]))
        for name in (*_NAMED.findall(reason), *_HOOK.findall(reason), *_QUOTED.findall(reason)):
            for file, line in self._declared(name):
                return Place(str(file), line)
        return self.module

    def _file_named(self, name: str) -> Path | None:
        return next((file for file in self._files if file.name == Path(name).name), None)

    def _declared(self, name: str) -> Iterator[tuple[Path, int]]:
        for file, tree in self._trees.items():
            for node in ast.walk(tree):
                if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and node.name == name:
                    yield file, node.lineno
                if isinstance(node, ast.Call) and name in _constants(node):
                    yield file, node.lineno

    def _calculator_call(self, name: str) -> tuple[Path, ast.Call] | None:
        """The call that makes a calculator: the one with its name, else the only one there is."""
        calls = [(file, call) for file, tree in self._trees.items() for call in _calls(tree, "Calculator")]
        named = [one for one in calls if name in _constants(one[1])]
        return named[0] if named else calls[0] if len(calls) == 1 else None

    @cached_property
    def _trees(self) -> dict[Path, ast.Module]:
        trees = {}
        for file in self._files:
            try:
                trees[file] = ast.parse(file.read_bytes())
            except (OSError, SyntaxError, ValueError):
                continue
        return trees


def _calls(tree: ast.AST, name: str) -> list[ast.Call]:
    """The calls of something of that name, as they stand in the text."""
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and _name(node.func) == name]
    return sorted(calls, key=lambda call: (call.lineno, call.col_offset))


def _constants(call: ast.Call) -> set[str]:
    """The texts that are given to a call as its name or its first argument."""
    given = [one.value for one in call.keywords if one.arg == "name"] + call.args[:1]
    return {one.value for one in given if isinstance(one, ast.Constant) and isinstance(one.value, str)}


def _name(node: ast.AST) -> str:
    if isinstance(node, ast.Name):
        return node.id
    return node.attr if isinstance(node, ast.Attribute) else ""
