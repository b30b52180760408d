"""JSON that a stranger wrote, read within bounds: how long, how deep, no name twice, no number that is not one."""

from __future__ import annotations

import json
from math import isfinite
from typing import Any, Final

DEEPEST: Final = 20
"""Lists and objects within each other; what the tool writes has four at most."""


class JsonRefused(ValueError):
    """Text that is not JSON, or not within the bounds; it says which."""


def bounded_json(text: str, longest: int, *, may_be_infinite: bool = False) -> Any:
    """What a text of JSON holds. Raises JsonRefused.

    >>> bounded_json('{"a": [1, 2.5, null]}', 100)
    {'a': [1, 2.5, None]}
    """
    if len(text) > longest:
        raise JsonRefused("too long")
    try:
        found = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_each_once)
    except RecursionError as fault:
        raise JsonRefused("nested too deep") from fault
    except JsonRefused:
        raise
    except ValueError as fault:
        raise JsonRefused("not JSON") from fault
    _refuse_inside(found, may_be_infinite=may_be_infinite)
    return found


def _refuse_inside(found: Any, *, may_be_infinite: bool) -> None:
    level = [found]
    for _ in range(DEEPEST + 1):
        if not level:
            return
        below: list[Any] = []
        for one in level:
            if isinstance(one, dict):
                below += one
                below += one.values()
            elif isinstance(one, list):
                below += one
            elif isinstance(one, str):
                _refuse_text(one)
            elif isinstance(one, float) and not isfinite(one) and not may_be_infinite:
                raise JsonRefused("with a number that is infinite")
            elif isinstance(one, int) and abs(one) >= 1 << 63:
                raise JsonRefused("with a number that is too large")
        level = below
    raise JsonRefused("nested too deep")


def _refuse_text(text: str) -> None:
    if "\0" in text:
        raise JsonRefused("with the character NUL in a text")
    if not text.isascii():
        try:
            text.encode()
        except UnicodeEncodeError as fault:
            raise JsonRefused("with half of a character in a text") from fault


def _no_constant(name: str) -> Any:
    raise JsonRefused(f"with {name}, which is not a number")


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise JsonRefused("with a name that is there twice")
    return found
