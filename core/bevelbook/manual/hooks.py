"""What a plugin may offer and import, from the docstrings: each hook with an example, each name with what it takes."""

from __future__ import annotations

import ast
import inspect
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib import import_module
from itertools import pairwise
from types import ModuleType
from typing import Any, Final, ForwardRef, Literal, NamedTuple, get_args, get_origin

import bevelbook
from bevelbook.declare.fields import Declared, Field, More, fields_of
from bevelbook.manual.contents import Block, CommandLine, Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.manual.docstrings import blocks_of, plain, summary_of
from bevelbook.plugin import hookspecs
from bevelbook.plugin.registry import HOOKS

TOPIC: Final = "hooks"
_MARKER: Final = "Marks a function of a plugin as the answer to the hook of the same name."
_WIDEST: Final = 92
_REQUIRED: Final = "required"


class ImportedName(NamedTuple):
    """A name that a plugin may import: how it is called (empty where it is not), in a sentence, and all of it."""

    name: str
    called: str
    summary: str
    doc: str


def names_to_import() -> dict[str, ImportedName]:
    """Every name of the façade, in its order."""
    return {name: _imported(name, getattr(bevelbook, name)) for name in bevelbook.__all__}


def hooks_page() -> ManualPage:
    """The hooks, each with its example, and the names to import with a line each."""
    sections = [Section(signature_of(name), tuple(_hook_blocks(name))) for name in HOOKS]
    names = Entries(
        tuple(ManualEntry(one.name, one.summary, topic=f"{TOPIC}/{one.name}") for one in names_to_import().values()),
        True,
    )
    return ManualPage(
        TOPIC,
        "What a plugin may offer and import",
        "A plugin is a Python module. It offers by hooks: functions with these names, each marked with hookimpl.",
        (*sections, Section("Names to import from bevelbook", (names,))),
    )


def name_page(name: str) -> ManualPage:
    """One name: what it takes, what it means, what it can do."""
    one, value = names_to_import()[name], getattr(bevelbook, name)
    blocks: list[Block] = [CommandLine(one.called)] if one.called else []
    blocks += _words_to_choose(one.called, value)
    blocks += _after_the_summary(one.doc)
    for base in value.__mro__[1:] if isinstance(value, type) else ():
        if base.__module__.startswith("bevelbook.") and not _is_record(value):
            blocks += _after_the_summary(_own_doc(base))
    sections = [Section("", tuple(blocks))] if blocks else []
    if _is_record(value):
        sections.append(Section("Fields", (Entries(tuple(_field_entry(field) for field in fields_of(value)), True),)))
    if isinstance(value, type) and (methods := tuple(_methods(value))):
        sections.append(Section("What it has", (Entries(methods, True),)))
    if _takes_more(value):
        more = Paragraph(f"{', '.join(More.__annotations__)}.")
        sections.append(Section("What else it takes", (more, *_of_fields())))
    if isinstance(value, ModuleType):
        sections.append(Section("What is in it", (Entries(tuple(_words_in(value)), True),)))
    return ManualPage(f"{TOPIC}/{name}", name, one.summary, tuple(sections))


def signature_of(hook: str) -> str:
    """A hook as it is written: its name with the names of its arguments."""
    return f"{hook}({', '.join(inspect.signature(getattr(hookspecs, hook)).parameters)})"


def _hook_blocks(hook: str) -> Iterator[Block]:
    yield from blocks_of(inspect.getdoc(getattr(hookspecs, hook)) or "")


def _imported(name: str, value: object) -> ImportedName:
    if name == "hookimpl":
        return ImportedName(name, "@hookimpl", _MARKER, _MARKER)
    doc = _doc_of_constant(name) if not callable(value) and not isinstance(value, ModuleType) else _own_doc(value)
    called = _called(name, value) if callable(value) else ""
    return ImportedName(name, called, plain(doc.split("\n\n")[0]), doc)


def _own_doc(value: object) -> str:
    """The docstring of a thing itself, never one that it inherits."""
    doc = vars(value).get("__doc__") if isinstance(value, type) else getattr(value, "__doc__", None)
    return inspect.cleandoc(doc) if doc else ""


@cache
def _doc_of_constant(name: str) -> str:
    """The text under a constant where it is defined."""
    module = import_module(f"bevelbook.{next(home for home, names in bevelbook._HOME.items() if name in names)}")
    lines = ast.parse(inspect.getsource(module)).body
    for before, after in pairwise(lines):
        target = before.target if isinstance(before, ast.AnnAssign) else None
        is_it = isinstance(target, ast.Name) and target.id == name
        if is_it and isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
            return inspect.cleandoc(str(after.value.value))
    return ""


def _called(name: str, value: Callable[..., object]) -> str:
    """How it is called, on one line or an argument a line."""
    if _is_record(value):
        return ""
    parts, is_keyword = [], False
    for one in inspect.signature(value).parameters.values():
        if one.kind is inspect.Parameter.KEYWORD_ONLY and not is_keyword:
            parts.append("*")
        is_keyword = is_keyword or one.kind in (inspect.Parameter.KEYWORD_ONLY, inspect.Parameter.VAR_POSITIONAL)
        parts.append(_parameter(one))
    line = f"{name}({', '.join(parts)})"
    return line if len(line) <= _WIDEST else "\n".join([f"{name}(", *(f"    {part}," for part in parts), ")"])


def _parameter(one: inspect.Parameter) -> str:
    sign = "*" if one.kind is one.VAR_POSITIONAL else "**" if one.kind is one.VAR_KEYWORD else ""
    kind = one.annotation.__forward_arg__ if isinstance(one.annotation, ForwardRef) else one.annotation
    text = f"{sign}{one.name}"
    if kind is not inspect.Parameter.empty:
        text += f": {kind}"
    if one.default is inspect.Parameter.empty or str(one.default) == _REQUIRED:
        return text
    return f"{text} = {dict(one.default) if isinstance(one.default, Mapping) else one.default!r}"


def _words_to_choose(called: str, value: object) -> Iterator[Block]:
    """The words that an argument may be, where its kind is a list of words."""
    module = vars(sys.modules.get(getattr(value, "__module__", ""), object))
    kinds = {name: module[name] for name in re.findall(r"[A-Z]\w+", called) if get_origin(module.get(name)) is Literal}
    if kinds:
        entries = (ManualEntry(name, ", ".join(map(repr, get_args(kind)))) for name, kind in kinds.items())
        yield Entries(tuple(entries), True)


def _is_record(value: object) -> bool:
    return isinstance(value, type) and bool(getattr(value, "__slots__", None)) and _has_fields(value)


def _has_fields(value: type[Any]) -> bool:
    try:
        return bool(fields_of(value))
    except (AttributeError, KeyError, TypeError):
        return False


def _field_entry(field: Field) -> ManualEntry:
    words = f", one of {', '.join(field.choices)}" if field.choices else ""
    return ManualEntry(field.name, f"{field.about}{words}.")


def _methods(value: type[Any]) -> Iterator[ManualEntry]:
    """What can be asked of it: its functions and what it works out, each with its first sentence."""
    seen: set[str] = set()
    for owner in value.__mro__:
        if not owner.__module__.startswith("bevelbook."):
            continue
        for name, held in vars(owner).items():
            doc = summary_of(held) if isinstance(held, property) or inspect.isfunction(held) else ""
            if name.startswith("_") or name in seen or not doc:
                continue
            seen.add(name)
            taken = "" if isinstance(held, property) else f"({', '.join([*inspect.signature(held).parameters][1:])})"
            yield ManualEntry(f"{name}{taken}", doc)


def _takes_more(value: object) -> bool:
    """Whether it declares a field."""
    is_specifier = inspect.isfunction(value) and value.__module__ == Declared.__module__
    return is_specifier and "more" in inspect.signature(value).parameters  # type: ignore[arg-type]


def _of_fields() -> Iterator[Block]:
    yield from _after_the_summary(_own_doc(Field))


def _after_the_summary(doc: str) -> list[Block]:
    return [*blocks_of(doc)][1:]


def _words_in(module: ModuleType) -> Iterator[ManualEntry]:
    """The lists of words in a module."""
    for name, held in vars(module).items():
        if name.isupper() and isinstance(held, tuple) and all(isinstance(one, str) for one in held):
            yield ManualEntry(name, ", ".join(held) + ".")
