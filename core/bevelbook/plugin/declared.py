"""Checks of a calculator's declaration against what a database can keep and a page can show.

Each function yields the faults in words that complete ``calculator NAME: ...``, and changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Any, Final

from bevelbook.declare.fields import REQUIRED, Field, fields_of, is_of_fields
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.sources import Source
from bevelbook.plugin.guard import fault_of_text, safe_repr
from bevelbook.plugin.returned_values import LARGEST_WHOLE, VERDICTS

_NAME: Final = late_pattern(r"[a-z][a-z0-9]*(-(?!(?:rows|latest)$)[a-z0-9]+)*")


def is_name_of_calculator(name: object) -> bool:
    """Whether a calculator may be called so: lower-case words joined by hyphens, the last one not ``rows`` or
    ``latest``, as the views of its results end.

    >>> is_name_of_calculator("top-speed"), is_name_of_calculator("Top"), is_name_of_calculator("top-rows")
    (True, False, False)
    """
    return isinstance(name, str) and _NAME.fullmatch(name) is not None


def fault_of_version(version: object) -> str | None:
    """Why an object is not a valid version, or None.

    >>> fault_of_version(2**63), fault_of_version(3)
    ('the version is a whole number from 1 to 9,223,372,036,854,775,807', None)
    """
    if type(version) is int and 1 <= version <= LARGEST_WHOLE:
        return None
    return f"the version is a whole number from 1 to {LARGEST_WHOLE:,}"


def faults_of_fields(side: type[Any]) -> Iterator[str]:
    """Faults in the fields of a record, and of its listing's items, that could not be kept or shown."""
    if not is_of_fields(side):
        called = side.__name__ if isinstance(side, type) else safe_repr(side)
        yield f"{called} is not a record: it has to be made by @record, and no subclass of one"
    for field in fields_of(side):
        yield from (f"{field.name}: {fault}" for fault in _faults_of_field(field))
        if field.item is not None:
            yield from faults_of_fields(field.item)


def faults_of_example(
    given: object, expected: object, tolerance: object, source: object, verdict: object
) -> Iterator[str]:
    """Faults of a worked example: inputs that cannot be typed, outputs that cannot be compared."""
    if not isinstance(given, dict):
        yield f"given is {safe_repr(given)}, where a dict of texts is wanted"
    else:
        for name, value in given.items():
            texts = value if isinstance(value, (list, tuple)) else (value,)
            reason = fault_of_text(name) or next(filter(None, map(_fault_of_typed, texts)), None)
            if reason is not None:
                yield f"the input {safe_repr(name)} has {reason}"
    if not isinstance(expected, dict):
        yield f"expected is {safe_repr(expected)}, where a dict is wanted"
    else:
        for name, value in expected.items():
            if fault_of_text(name) or not (value is None or isinstance(value, str) or _is_number(value)):
                yield f"{safe_repr(name)} is expected to be {safe_repr(value)}, where a number or a word is wanted"
    if not _is_number(tolerance):
        yield f"the tolerance is {safe_repr(tolerance)}, where a number is wanted"
    if not isinstance(source, Source):
        yield f"the source is {safe_repr(source)}, where a Source is wanted"
    if verdict is not None and verdict not in VERDICTS:
        yield f"the verdict is {safe_repr(verdict)}, which is none of {', '.join(VERDICTS)}"


def _fault_of_typed(value: object) -> str | None:
    return None if isinstance(value, str) and not value else fault_of_text(value)


def _faults_of_field(field: Field) -> Iterator[str]:
    if reason := fault_of_text(field.about):
        yield f"what it is about is {reason}"
    if not isinstance(field.choices, tuple):
        yield f"its words are {safe_repr(field.choices)}, where a tuple of words is wanted"
    else:
        yield from (f"its words have {reason}" for one in field.choices if (reason := fault_of_text(one)))
    if field.same_as is not None and (reason := fault_of_text(field.same_as)):
        yield f"same_as is {reason}"
    if field.default is REQUIRED or field.default is None or field.default == "":
        return
    reason = _fault_of_default(field)
    if reason is not None:
        yield f"it is {reason} where nothing is given"


def _fault_of_default(field: Field) -> str | None:
    value = field.default
    if field.kind == "listing":
        return None if isinstance(value, tuple) else f"{safe_repr(value)}, not a tuple,"
    if field.kind == "whole":
        is_whole = isinstance(value, int) and not isinstance(value, bool) and abs(value) <= LARGEST_WHOLE
        return None if is_whole else f"{safe_repr(value)}, not a whole number up to {LARGEST_WHOLE:,},"
    if field.is_number:
        return None if _is_number(value) else f"{safe_repr(value)}, not a number,"
    if field.choices and value not in field.choices:
        return f"{safe_repr(value)}, none of its words,"
    return fault_of_text(value)


def _is_number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    return abs(value) <= LARGEST_WHOLE if isinstance(value, int) else isfinite(value)
