"""The steps of a build: the bundled procedure, or a team's own file in the same form.

::

    title: "Build of a diff"
    cautions: ["scope"]
    steps:
      - key: "weigh-dry"
        title: "Weigh it dry"
        do: "Weigh with every part on the pan."
        check: "As heavy as the last time."
        write_down: ["builds.dry_mass_g", "name of the tray"]
        calculators: ["name-of-one"]
        cautions: ["oil-on-floor", "Mind the cat."]

``write_down`` names columns of the database, ``cautions`` keys of ``cautions.csv``; what has a space in it is a text of
the team's own.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from bevelbook.declare.errors import DeclarationError, InputError, Place, near_misses, shown
from bevelbook.records import BY_TABLE
from bevelbook.reference import BUNDLED, caution_in_words, read_text, rows

if TYPE_CHECKING:
    from yaml.nodes import MappingNode, Node

FILE: Final = "procedure.yaml"
LARGEST_BYTES: Final = 200_000
_TOP_NEEDED: Final = ("title", "steps")
_TOP_TEXTS: Final = ("title", "status", "source")
_STEP_NEEDED: Final = ("key", "title", "do")
_STEP_TEXTS: Final = ("key", "title", "do", "check")
_STEP_LISTS: Final = ("write_down", "calculators", "cautions")
_KEY: Final = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_IN_QUOTES: Final = "text in quotes, since YAML reads no as false and 13:37 as 817"


class ProcedureStep(NamedTuple):
    """One step: what to do, what has to be so before going on, what to write down, and its cautions."""

    key: str
    title: str
    do: str
    check: str = ""
    write_down: tuple[str, ...] = ()
    calculators: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


class Procedure(NamedTuple):
    """The steps in order, with cautions that hold for all of them."""

    title: str
    steps: tuple[ProcedureStep, ...]
    status: str = ""
    source: str = ""
    cautions: tuple[str, ...] = ()


def bundled_procedure() -> Procedure:
    """The procedure that comes with the tool.

    >>> bundled_procedure().steps[0].title
    'Weigh it closed'
    """
    return procedure_from(read_text(BUNDLED, FILE), FILE)


def read_procedure(path: Path) -> Procedure:
    """A team's own procedure. Raises InputError with file, line and key, and near misses for what is misspelt."""
    place = Place(str(path))
    try:
        with path.open("rb") as file:
            found = file.read(LARGEST_BYTES + 1)
    except OSError as fault:
        raise InputError("the procedure cannot be read", code="no_file", place=place, found=fault.strerror) from None
    if len(found) > LARGEST_BYTES:
        raise InputError(
            "the procedure is too long to be one",
            code="procedure_too_long",
            place=place,
            wanted=f"at most {LARGEST_BYTES:,} bytes",
            remedy="Look whether this is the right file.",
        )
    try:
        text = found.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            "the procedure is not in UTF-8", code="procedure_encoding", place=place, remedy="Save it as UTF-8."
        ) from None
    return procedure_from(text, str(path))


def procedure_from(text: str, name: str) -> Procedure:
    """The procedure that a text holds; ``name`` is the file's, for errors. Raises InputError."""
    return _Reader(name).procedure(text)


class _Reader:
    """Reads one file; knows its name, and the line of everything in it."""

    def __init__(self, name: str) -> None:
        self._name = name

    def procedure(self, text: str) -> Procedure:
        import yaml

        try:
            found = yaml.safe_load(text)
            node = yaml.compose(text, yaml.SafeLoader)
        except (yaml.YAMLError, ValueError) as fault:
            mark = getattr(fault, "problem_mark", None)
            raise self._fault(
                "the procedure is no YAML",
                mark.line + 1 if mark else None,
                remedy="Put texts in quotes, and two blanks before what belongs to a step.",
                code="procedure_yaml",
            ) from None
        except RecursionError:
            raise self._fault("the procedure is nested too deep", None, code="procedure_yaml") from None
        if not isinstance(found, dict) or node is None:
            raise self._fault("a procedure has a title and steps", 1, wanted=", ".join(_TOP_NEEDED))
        lines = self._keys(node, (*_TOP_TEXTS, "cautions", "steps"), _TOP_NEEDED, "")
        texts = {key: self._text(found[key], lines[key], key) for key in _TOP_TEXTS if key in found}
        steps = found["steps"]
        places = next(value for key, _, value in _pairs(node) if key == "steps")
        if not isinstance(steps, list) or not steps:
            raise self._fault("there are no steps", lines["steps"], column="steps", wanted='- key: "weigh-dry"')
        read = [self._step(one, place) for one, place in zip(steps, places.value, strict=True)]
        self._no_key_twice(read, [_line(one) for one in places.value])
        cautions = self._list(found, lines, "cautions", "")
        return Procedure(texts["title"], tuple(read), texts.get("status", ""), texts.get("source", ""), cautions)

    def _step(self, found: Any, node: Node) -> ProcedureStep:
        if not isinstance(found, dict):
            raise self._fault("a step is a list of keys", _line(node), found=str(found), wanted=", ".join(_STEP_NEEDED))
        name = found.get("key")
        named = f"step {name}" if isinstance(name, str) else "step"
        lines = self._keys(node, (*_STEP_TEXTS, *_STEP_LISTS), _STEP_NEEDED, named)
        values: dict[str, Any] = {
            key: self._text(found[key], lines[key], f"{named}, {key}") for key in _STEP_TEXTS if key in found
        }
        values |= {key: self._list(found, lines, key, f"{named}, ") for key in _STEP_LISTS}
        if not _KEY.fullmatch(values["key"]):
            raise self._fault(
                "the key of a step is made of lower-case words joined by hyphens",
                lines["key"],
                column="key",
                found=values["key"],
                wanted="such as weigh-dry",
            )
        return ProcedureStep(**values)

    def _keys(self, node: Node, known: tuple[str, ...], needed: tuple[str, ...], named: str) -> dict[str, int]:
        """The line of each key. Raises InputError for one that is unknown, there twice or missing."""
        lines: dict[str, int] = {}
        for key, line, _ in _pairs(node):
            if key not in known:
                raise self._fault(
                    f"no key of {named or 'a procedure'} is called {shown(key)}",
                    line,
                    wanted=", ".join(known),
                    remedy=near_misses(key, known) or None,
                )
            if key in lines:
                raise self._fault(f"{key} stands there twice", line, column=named or None)
            lines[key] = line
        for key in needed:
            if key not in lines:
                raise self._fault(f"{named or 'the procedure'} has no {key}", _line(node), wanted=", ".join(needed))
        return lines

    def _text(self, value: Any, line: int, column: str) -> str:
        if not isinstance(value, str):
            raise self._fault("this is no text", line, column=column, found=str(value), wanted=_IN_QUOTES)
        if not value.strip():
            raise self._fault("this is empty", line, column=column)
        return " ".join(value.split())

    def _list(self, found: dict[str, Any], lines: dict[str, int], key: str, named: str) -> tuple[str, ...]:
        if key not in found:
            return ()
        if not isinstance(found[key], list):
            raise self._fault(
                "this is no list", lines[key], column=named + key, found=str(found[key]), wanted='["one", "two"]'
            )
        texts = tuple(self._text(one, lines[key], named + key) for one in found[key])
        for one in texts:
            if key == "cautions":
                self._check_caution(one, lines[key], named + key)
            if key == "write_down":
                self._check_column(one, lines[key], named + key)
        return texts

    def _check_caution(self, one: str, line: int, column: str) -> None:
        try:
            caution_in_words(one)
        except DeclarationError:
            known = [row["key"] for row in rows("cautions.csv")]
            raise self._fault(
                f"no caution is called {shown(one)}",
                line,
                column=column,
                wanted=f"one of {', '.join(known)}, or a sentence",
                remedy=near_misses(one, known) or None,
            ) from None

    def _check_column(self, one: str, line: int, column: str) -> None:
        if " " in one:
            return
        table, _, name = one.partition(".")
        if table in BY_TABLE and name in BY_TABLE[table].columns:
            return
        known = [f"{table}.{name}" for table, kind in BY_TABLE.items() if kind.own for name in kind.columns]
        raise self._fault(
            f"no column of the database is called {shown(one)}",
            line,
            column=column,
            wanted="a table and a column such as builds.dry_mass_g, or words",
            remedy=near_misses(one, known) or None,
        )

    def _no_key_twice(self, steps: list[ProcedureStep], lines: list[int]) -> None:
        seen: set[str] = set()
        for step, line in zip(steps, lines, strict=True):
            if step.key in seen:
                raise self._fault("two steps have one key", line, column="key", found=step.key)
            seen.add(step.key)

    def _fault(
        self,
        what: str,
        line: int | None,
        *,
        column: str | None = None,
        found: str | None = None,
        wanted: str | None = None,
        remedy: str | None = None,
        code: str = "procedure_value",
    ) -> InputError:
        return InputError(
            what, code=code, place=Place(self._name, line, column), found=found, wanted=wanted, remedy=remedy
        )


def _pairs(node: Node | MappingNode) -> list[tuple[str, int, Node]]:
    """Each key of a mapping with its line and its value."""
    return [(str(key.value), _line(key), value) for key, value in node.value]


def _line(node: Node) -> int:
    return int(node.start_mark.line) + 1
