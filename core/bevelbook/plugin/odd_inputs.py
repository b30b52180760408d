"""Whose fault failed arithmetic is: the plugin's, unless an input is outside the range of its sane values."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.declare.fields import Field, fields_of

_MOST_NAMED: Final = 3


def looking_at_inputs(remedy: str, *given: object) -> str:
    """What to do where code failed over these inputs: each that is outside its range is named first, and else it is the
    ``remedy`` alone, which says whose fault it is."""
    odd = [words for record in given for words in _odd_values(record)][:_MOST_NAMED]
    if not odd:
        return remedy
    first, right = ("this", "it is") if len(odd) == 1 else ("these", "they are")
    return f"Look at {first} first: {'; '.join(odd)}. If {right} right, {remedy[:1].lower()}{remedy[1:]}"


def _odd_values(record: object, of: str = "") -> Iterator[str]:
    """The values of a record that are outside the range of sane ones, in words."""
    from bevelbook.reading import implausible

    for field in fields_of(record):
        value = getattr(record, field.name)
        if field.kind == "listing" and isinstance(value, tuple):
            for place, item in enumerate(value, start=1):
                yield from _odd_values(item, f"{_item_words(field)} {place}: ")
        elif (odd := implausible(field, value)) is not None:
            yield f"{of}{odd}"


def _item_words(field: Field) -> str:
    return (field.singular or field.words).replace("_", " ")
