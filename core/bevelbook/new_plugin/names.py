"""The name of a calculator that somebody begins, and what its file, its views and its title are called by it."""

from __future__ import annotations

import re
import sys
from collections.abc import Collection
from importlib.util import find_spec
from keyword import iskeyword
from typing import Final, NamedTuple
from unicodedata import normalize

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.late_pattern import late_pattern

_WANTED: Final = late_pattern(r"[a-z][a-z0-9]*([-_][a-z0-9]+)*")
_LONGEST: Final = 40
_AS_SPELT: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "ø": "o", "å": "a", "æ": "ae", "ł": "l"})
_EXAMPLE: Final = "tyre-age"
_OF_TESTS: Final = "test-"
"""How the file of a test begins, which a folder of plugins leaves out."""


class PluginNames(NamedTuple):
    """The same name for a calculator (``tyre-age``), a module (``tyre_age``), a title and a constant."""

    calculator: str

    @property
    def module(self) -> str:
        return self.calculator.replace("-", "_")

    @property
    def title(self) -> str:
        words = self.calculator.replace("-", " ")
        return f"{words[:1].upper()}{words[1:]}"

    @property
    def constant(self) -> str:
        return self.module.upper()


def names_of(typed: str, calculators: Collection[str]) -> PluginNames:
    """What a calculator is called that nobody has yet.

    ``calculators`` are the names that are taken. Raises InputError, with a name to type in ``found`` of the place
    ``remedy``: where the name cannot be one of a module, or is that of a calculator or of a module that exists.
    """
    names = PluginNames(typed.replace("_", "-"))
    wrong = _what_is_wrong(typed, names, calculators)
    if wrong is None:
        return names
    raise BadName(wrong, typed, near_name(typed, calculators))


class BadName(InputError):
    """A name that cannot be taken, with one that can: ``instead``."""

    def __init__(self, wrong: str, typed: str, instead: str) -> None:
        super().__init__(
            wrong, code="name_of_plugin", place=Place(column="NAME"), found=typed, remedy=f"Type {instead}."
        )
        self.instead = instead


def near_name(typed: str, calculators: Collection[str]) -> str:
    """A name like the one that was typed, which can be taken.

    >>> near_name("Ölstand hinten", ()), near_name("TyreAge", ()), near_name("class", ()), near_name("3rd gear", ())
    ('oelstand-hinten', 'tyre-age', 'my-class', 'my-3rd-gear')
    >>> near_name("shims", ("shims", "my-shims")), near_name("!", ()), near_name("test_oil", ())
    ('my-shims-2', 'tyre-age', 'oil')
    """
    parted = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "-", typed).lower().translate(_AS_SPELT)
    plain = normalize("NFKD", parted).encode("ascii", "ignore").decode()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")
    while words.startswith(_OF_TESTS):
        words = words.removeprefix(_OF_TESTS)
    stem = words[: _LONGEST - 6].strip("-") or _EXAMPLE
    tried = [stem, f"my-{stem}", *(f"my-{stem}-{number}" for number in range(2, 100))]
    return next(one for one in tried if _what_is_wrong(one, PluginNames(one), calculators) is None)


def _what_is_wrong(typed: str, names: PluginNames, calculators: Collection[str]) -> str | None:
    if not _WANTED.fullmatch(typed):
        return "the name of a calculator is small letters from a to z and digits, its words joined by hyphens"
    if len(typed) > _LONGEST:
        return f"the name is longer than {_LONGEST} letters"
    if names.calculator.startswith(_OF_TESTS) or names.calculator == "test":
        return "a file that begins with test is taken for a test, and left out of a folder of plugins"
    if iskeyword(names.module):
        return "the name is a word of Python itself, so no file can be called that"
    if names.calculator in calculators:
        return "there is a calculator of that name already"
    if names.module in sys.stdlib_module_names or find_spec(names.module) is not None:
        return "there is a Python module of that name already, and a file called like it would hide it"
    return None
