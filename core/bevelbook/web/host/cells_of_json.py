"""The JSON of a kept result in the cell of a table: its numbers in the digits that people read. The files keep all."""

from __future__ import annotations

import json
from typing import Any, Final

from bevelbook.declare.known_units import suffix_of, unit_said_by
from bevelbook.display.format import format_figure, format_rough, format_typed

JSON_COLUMNS: Final = frozenset({"given", "found", "rows", "uncertainties"})
LONGEST: Final = 4_000
"""Characters of a text that is left as it is: longer ones are cut by the page."""


def json_in_digits(text: str, *, is_typed: bool = False) -> str | None:
    """The JSON with shorter numbers, by the unit at the end of their names; ``is_typed`` keeps six digits at least, as
    of an input. None for a text that is long, or not JSON.

    >>> json_in_digits('{"loss_low_g":0.0418350341907,"rows":[{"loss_share":0.0333333333333}]}')
    '{"loss_low_g": 0.042, "rows": [{"loss_share": 0.0333}]}'
    >>> json_in_digits('{"temperature_c":4.444444444}', is_typed=True), json_in_digits("[7")
    ('{"temperature_c": 4.44}', None)
    """
    if len(text) > LONGEST:
        return None
    try:
        found = json.loads(text)
    except ValueError:
        return None
    return _text("", found, is_typed)


def columns_in_words(text: str) -> str | None:
    """A list of columns as words; None for anything else.

    >>> columns_in_words('["dry_mass_g","hand_feel"]')
    'dry mass, hand feel'
    """
    try:
        found = json.loads(text)
    except ValueError:
        return None
    if not isinstance(found, list) or not all(isinstance(one, str) for one in found):
        return None
    return ", ".join(_plain_words(one) for one in found)


def _plain_words(column: str) -> str:
    """The words of a column's name without its unit."""
    suffix = suffix_of(column)
    return column.removesuffix(suffix or "").replace("_", " ")


def _text(name: str, value: Any, is_typed: bool) -> str:
    if isinstance(value, dict):
        members = (f"{json.dumps(key, ensure_ascii=False)}: {_text(key, one, is_typed)}" for key, one in value.items())
        return f"{{{', '.join(members)}}}"
    if isinstance(value, list):
        return f"[{', '.join(_text(name, one, is_typed) for one in value)}]"
    if not isinstance(value, float):
        return json.dumps(value, ensure_ascii=False)
    unit = unit_said_by(name)
    words = format_typed(value, unit) if is_typed else format_figure(value, unit) if unit else format_rough(value)
    return words.replace(",", "")
