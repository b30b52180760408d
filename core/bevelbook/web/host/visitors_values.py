"""Values of SQLite between the server and a process for visitors' own SQL, as JSON can hold them."""

from __future__ import annotations

from base64 import b64decode, b64encode
from typing import Any, Final

LONGEST_ANSWER_BYTES: Final = 30_000_000
"""Of all rows in JSON: their texts may have six bytes a character."""
TOO_MUCH_MEMORY: Final = "this query wants more memory than this server allows; ask for fewer rows or shorter values"
_BYTES: Final = "bytes"
_FLOAT: Final = "float"


def held_value(value: Any) -> Any:
    """A value of SQLite as JSON can hold it."""
    if isinstance(value, bytes):
        return {_BYTES: b64encode(value).decode()}
    if isinstance(value, float) and value - value != 0:
        return {_FLOAT: repr(value)}
    return value


def value_from(held: Any) -> Any:
    """The value that it stands for."""
    if not isinstance(held, dict):
        return held
    return b64decode(held[_BYTES]) if _BYTES in held else float(held[_FLOAT])
