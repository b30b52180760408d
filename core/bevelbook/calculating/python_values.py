"""Inputs as a program has them: numbers, texts, days, rows; and columns of them, of a list or of a library of tables.

No library of tables is imported: a column is asked for its values, and one of the same kind is made with what made it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from numbers import Integral, Real
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place, UnknownNameError
from bevelbook.declare.fields import Field, fields_of
from bevelbook.reading import BY_HAND, Options

EXACT: Final = BY_HAND._replace(decimal=".")
"""How a number of Python is read, which has one mark."""
_MISSING: Final = frozenset({"NAType", "NaTType"})
"""The types by which pandas says that there is no value."""
_BETWEEN: Final = ":"


class GivenColumn(NamedTuple):
    """The values of a column, and how one of the same kind is made of others: from its name, its values, and whether
    these are numbers."""

    values: Sequence[Any]
    make: Callable[[str, Sequence[Any], bool], Any]
    index: Any = None

    def row_in_words(self, number: int) -> str:
        """A row for people: its number from 1, and what the index calls it."""
        return f"row {number}" if self.index is None else f"row {number} (index {self.index[number - 1]})"


def column_of(value: Any) -> GivenColumn | None:
    """A value as a column; None where it is one value."""
    if isinstance(value, list):
        return GivenColumn(value, lambda name, values, are_numbers: list(values))
    if isinstance(value, tuple):
        return GivenColumn(value, lambda name, values, are_numbers: tuple(values))
    if isinstance(value, (str, bytes, Mapping)) or not hasattr(value, "__len__"):
        return None
    made_by = type(value)
    library = made_by.__module__.partition(".")[0]
    if library == "pandas" and hasattr(value, "index") and hasattr(value, "tolist"):
        index = value.index
        return GivenColumn(
            value.tolist(),
            lambda name, values, are_numbers: made_by(
                values, index=index, name=name, dtype="float64" if are_numbers else "object"
            ),
            index,
        )
    if library == "polars" and hasattr(value, "to_list"):
        return GivenColumn(value.to_list(), lambda name, values, are_numbers: made_by(name, values))
    if library == "numpy" and getattr(value, "ndim", 1) == 1:
        array = sys.modules["numpy"].array
        return GivenColumn(
            value.tolist(),
            lambda name, values, are_numbers: array(values, dtype=float if are_numbers else object),
        )
    for asked in ("to_pylist", "to_list", "tolist"):
        if hasattr(value, asked):
            return GivenColumn(getattr(value, asked)(), lambda name, values, are_numbers: list(values))
    return None


def is_missing(value: Any) -> bool:
    """Whether there is no value: None, not a number, or what pandas has in its place.

    >>> is_missing(None), is_missing(float("nan")), is_missing(0.0), is_missing("")
    (True, True, False, False)
    """
    return value is None or type(value).__name__ in _MISSING or (isinstance(value, float) and value != value)


def text_of_value(field: Field, value: Any) -> str:
    """One value as it is typed, in the canonical unit where it is a number. Raises InputError for a thing of another
    kind.

    >>> from bevelbook.formulas.fill_target import FILL
    >>> text_of_value(FILL.inputs[0], 12.4), text_of_value(FILL.inputs[0], "0.43 oz")
    ('12.4', '0.43 oz')
    """
    if isinstance(value, str):
        return value
    if isinstance(value, Integral) and not isinstance(value, bool):
        return str(int(value))
    if isinstance(value, Real) and not isinstance(value, bool):
        return repr(float(value))
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, datetime):
        return value.strftime("%H:%M") if field.kind == "time" else value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.strftime("%H:%M")
    if hasattr(value, "nominal_value") and hasattr(value, "std_dev"):
        return f"{float(value.nominal_value)!r} +/- {float(value.std_dev)!r} (k = 1)"
    raise InputError(
        "a value of a kind that is not taken",
        code="not_of_its_type",
        place=Place(field=field.name),
        found=f"{type(value).__name__} {value!r}",
        wanted="a number, a text, or a column of these",
    )


def options_for(value: Any) -> Options:
    """How the text of a value is read: a text as a person types it, all else exactly."""
    return BY_HAND if isinstance(value, str) else EXACT


def texts_of_listing(field: Field, value: Any) -> list[str]:
    """The items of a listing, each as it is typed: of texts, of tuples in the order of its fields, of dicts by their
    names, or of the rows of a table."""
    if isinstance(value, str):
        return [value]
    for asked, given in (("to_dicts", ()), ("to_dict", ("records",))):
        if hasattr(value, asked) and hasattr(value, "columns"):
            value = getattr(value, asked)(*given)
            break
    else:
        column = column_of(value)
        value = value if column is None else column.values
    if not isinstance(value, Iterable) or isinstance(value, Mapping):
        value = (value,)
    return [_item(field, one, place) for place, one in enumerate(value, start=1)]


def _item(field: Field, item: Any, place: int) -> str:
    if isinstance(item, str):
        return item
    parts = fields_of(field.item)
    if isinstance(item, Mapping):
        names = {part.name for part in parts}
        for name in item:
            if name not in names:
                raise UnknownNameError(f"part of {field.name}", str(name), names)
        item = [item.get(part.name) for part in parts]
    elif not isinstance(item, (tuple, list)):
        item = (item,)
    if len(item) > len(parts):
        raise InputError(
            f"an item of {len(item)} values",
            code="listing_item_parts",
            place=Place(field=field.name, item=place),
            wanted=", ".join(part.name for part in parts),
        )
    texts = ["" if is_missing(one) else text_of_value(part, one) for part, one in zip(parts, item, strict=False)]
    return _BETWEEN.join(texts).rstrip(_BETWEEN)
