"""The texts in a value of JSON, changed one by one."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from bevelbook.store.calculations import as_json


def with_texts(text: str, change: Callable[[str], str]) -> str:
    """The JSON ``text`` with every text in it changed; the names of values stay. Other text is changed whole.

    >>> with_texts('{"a":["anna",1.5,null]}', str.upper)
    '{"a":["ANNA",1.5,null]}'
    """
    try:
        found = json.loads(text)
    except ValueError:
        return change(text)
    changed = _changed(found, change)
    return text if changed == found else as_json(changed)


def _changed(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, list):
        return [_changed(one, change) for one in value]
    if isinstance(value, dict):
        return {name: _changed(one, change) for name, one in value.items()}
    return value
