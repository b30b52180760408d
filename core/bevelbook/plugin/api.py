"""The version of what a plugin may use, and what of it is deprecated: the façade (``bevelbook``) and the hooks.

A plugin may say ``BEVELBOOK_API = 1`` in its module: the version that it was written for. One that was written for a
newer version is left out, and says why. Whatever goes stays in ``DEPRECATED`` for good, and says what
to use instead.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.errors import near_misses, shown
from bevelbook.declare.late_pattern import late_pattern

API_VERSION: Final = 1
"""Raised by one where a name, an argument or a hook is added to what a plugin may use, changes its meaning or goes."""
MARK: Final = "BEVELBOOK_API"
"""The name under which a plugin says for which version it was written."""
_MISSING: Final = late_pattern(r"cannot import name '(\w+)' from 'bevelbook'")
_FACADE: Final = "bevelbook"


class Deprecated(NamedTuple):
    """A name of the façade, or an argument of one (``Calculator.purpose``), that is to go or is gone.

    ``since`` is the version of the program from which on it warns, ``gone_in`` the one without it, ``instead`` says
    what to write in its place.
    """

    name: str
    since: str
    gone_in: str
    instead: str

    def in_words(self) -> str:
        """
        >>> Deprecated("double", "0.2", "0.4", "'twice'").in_words()
        "double is deprecated since 0.2 and goes in 0.4: write 'twice' instead"
        """
        return f"{self.name} is deprecated since {self.since} and goes in {self.gone_in}: write {self.instead} instead"


class DeprecatedUse(NamedTuple):
    """A line of a plugin that uses something deprecated."""

    line: int
    what: Deprecated


_LISTED: Final[tuple[Deprecated, ...]] = ()
DEPRECATED: Final[dict[str, Deprecated]] = {one.name: one for one in _LISTED}
"""All of it, by name; what is gone as well."""
_warned: Final[set[str]] = set()


def warn_of(name: str, stack_level: int) -> None:
    """Warn, once in a process, where a name is deprecated."""
    if name in DEPRECATED and name not in _warned:
        import warnings

        _warned.add(name)
        warnings.warn(DEPRECATED[name].in_words(), DeprecationWarning, stack_level)


def fault_of_version(said: object) -> str | None:
    """Why a plugin that says this version cannot be used, or None; ``said`` is None where it says nothing.

    >>> fault_of_version(API_VERSION), fault_of_version("1")
    (None, "BEVELBOOK_API is '1', where a whole number from 1 is wanted")
    """
    if said is None:
        return None
    if type(said) is not int or said < 1:
        return f"{MARK} is {ascii(said)[:60]}, where a whole number from 1 is wanted"
    if said > API_VERSION:
        return (
            f"it needs a newer bevelbook: it was written for version {said} of what a plugin may use, and this program "
            f"has version {API_VERSION}"
        )
    return None


def why_not_imported(fault: ImportError, known: tuple[str, ...]) -> str | None:
    """Why the façade does not have a name that a plugin wanted, and what to write instead; None for another fault."""
    missing = _MISSING.search(str(fault))
    if missing is None:
        return None
    name = missing[1]
    if name in DEPRECATED:
        one = DEPRECATED[name]
        return f"{name} went in {one.gone_in}: write {one.instead} instead"
    return f"bevelbook has nothing named {shown(name)}. {near_misses(name, known)}".strip()


def version_said(text: str) -> object:
    """What a plugin's text says of its version, without running it; None where it says nothing, or cannot be read."""
    try:
        body = ast.parse(text).body
    except (SyntaxError, ValueError):
        return None
    for statement in body:
        if isinstance(statement, ast.Assign) and isinstance(statement.value, ast.Constant):
            names = [target.id for target in statement.targets if isinstance(target, ast.Name)]
            if MARK in names:
                return statement.value.value
    return None


def deprecated_in(text: str) -> Iterator[DeprecatedUse]:
    """The lines of a plugin's text that use something deprecated, in order. Raises SyntaxError."""
    found = {DeprecatedUse(line, DEPRECATED[name]) for line, name in _used(ast.parse(text)) if name in DEPRECATED}
    yield from sorted(found, key=lambda one: (one.line, one.what.name))


def _used(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """The names of the façade, and the arguments by name, that a text uses, each with its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == _FACADE:
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == _FACADE:
            yield node.lineno, node.attr
        elif isinstance(node, ast.Call):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            yield from ((word.value.lineno, f"{called}.{word.arg}") for word in node.keywords)
