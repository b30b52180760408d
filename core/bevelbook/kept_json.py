"""JSON in the columns of a database: any program may write there, so no shape is assumed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def object_in(text: str | None) -> dict[str, Any] | None:
    """The names and values of a JSON object; None for anything else.

    >>> object_in('{"a": 1}'), object_in("null"), object_in("[]"), object_in("{")
    ({'a': 1}, None, None, None)
    """
    found = _read(text)
    return found if isinstance(found, dict) else None


def texts_in(text: str | None) -> tuple[str, ...] | None:
    """The texts of a JSON list, other items converted to text; None for anything that is not a list.

    >>> texts_in('["dry", 3]'), texts_in("3")
    (('dry', '3'), None)
    """
    found = _read(text)
    return tuple(map(str, found)) if isinstance(found, list) else None


def _read(text: str | None) -> object:
    try:
        return None if text is None else json.loads(text)
    except (ValueError, TypeError, RecursionError):
        return None


def object_text(values: Mapping[str, Any]) -> str:
    """An object as SQLite writes it: without spaces, so that both write equal bytes.

    >>> object_text({"fluid": "house 7k"})
    '{"fluid":"house 7k"}'
    """
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"))
