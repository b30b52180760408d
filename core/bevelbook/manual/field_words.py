"""A field in words: its unit, its range, what is taken if it is left out, where its value may come from."""

from __future__ import annotations

from collections.abc import Iterator

from bevelbook.declare.fields import Field, fields_of
from bevelbook.display.format import SHOWN_UNIT
from bevelbook.reading.laps import EXAMPLE, takes_minutes


def unit_in_words(field: Field) -> str:
    """``in g``; nothing where the field has no unit."""
    unit = SHOWN_UNIT.get(field.unit or "", field.unit or "")
    return f"in {unit}{or_minutes(field)}" if unit else ""


def or_minutes(field: Field) -> str:
    """``, or as 1:14.9``, for a field that takes minutes and seconds, and for a text of laps; else nothing."""
    return f", or as {EXAMPLE}" if field.of_laps or takes_minutes(field) else ""


def range_in_words(field: Field) -> str:
    """The bounds and the usual range of a number.

    >>> from bevelbook.declare.fields import quantity, record
    >>> @record
    ... class Mass:
    ...     oil_mass_g: float = quantity("g", "Oil", above=0, plausible=(0, 10))
    >>> range_in_words(Mass.fields[0])
    'more than 0, usually 0 to 10'
    """
    bounds = (
        ("at least", field.minimum),
        ("more than", field.above),
        ("at most", field.maximum),
        ("less than", field.below),
    )
    parts = [" and ".join(f"{words} {number:,.12g}" for words, number in bounds if number is not None)]
    if field.plausible is not None:
        parts.append(f"usually {field.plausible[0]:,.12g} to {field.plausible[1]:,.12g}")
    return ", ".join(part for part in parts if part)


def default_in_words(field: Field) -> str:
    """What is taken if the field is left out."""
    if field.required:
        return "needed"
    if field.default in (None, ()):
        return "may be left out"
    unit = SHOWN_UNIT.get(field.unit or "", field.unit or "")
    number = f"{field.default:,.12g}" if isinstance(field.default, float | int) else str(field.default)
    return f"{number} {unit}".strip() + " if left out"


def shape_in_words(field: Field) -> str:
    """How one item of a listing is written: its values joined by colons, those in brackets may be left out."""
    parts = [
        (f"{one.words} [{one.unit}]" if one.unit and one.unit not in ("1", "runs") else one.words, one.required)
        for one in fields_of(field.item)
    ]
    return ":".join(words if required else f"({words})" for words, required in parts)


def facts_of_field(field: Field, origin: str = "") -> Iterator[str]:
    """Everything about a field besides its meaning, part by part; ``origin`` says where else it comes from."""
    if field.kind == "listing":
        yield f"repeat it, one a time as {shape_in_words(field)}"
    if field.choices:
        yield f"one of {', '.join(field.choices)}"
    unit = unit_in_words(field) or or_minutes(field).removeprefix(", ")
    yield from (part for part in (unit, range_in_words(field)) if part)
    yield default_in_words(field)
    if origin:
        yield origin
