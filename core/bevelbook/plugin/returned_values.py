"""Checks of what the functions of a calculator return against what it declares.

Each takes a returned value and raises :class:`bevelbook.plugin.guard.Unfit` with the reason if it is not as declared. A
text or number of a plugin's own subclass, which may fail when printed, becomes a plain text or number.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from functools import lru_cache
from math import isfinite
from operator import is_
from typing import Any, Final, Literal, NamedTuple, TypeVar, cast, get_args

from bevelbook.declare.errors import with_article
from bevelbook.declare.fields import Field, fields_of, is_of_fields
from bevelbook.display.tidy import tidied
from bevelbook.plugin.guard import (
    NotFinite,
    Unfit,
    empty_or_text_taken,
    fault_of_text,
    plain_text,
    safe_repr,
    text_taken,
    texts_taken,
)
from bevelbook.plugin.where_shown import CardLine

T = TypeVar("T")

Verdict = Literal["ok", "caution", "stop", "unclear"]
VERDICTS: Final[tuple[str, ...]] = get_args(Verdict)
LARGEST_WHOLE: Final = 2**63 - 1
"""The largest whole number that a database keeps as one."""
_RECORDS_REMEMBERED: Final = 256
_REASONS_REMEMBERED: Final = 64


class Judgement(NamedTuple):
    """The verdict in words.

    ``reasons`` say why, in grams, minutes, labels and words first; there is at least one. ``findings`` are things worth
    a look that do not change the verdict (an extrapolation, a value that differs from the last one). A limit that
    nobody published is called ``our own figure``.
    ``in_words_only``: the reasons are for a person in the middle of the work (a reading while pouring), so the verdict
    is kept and given to programs, but its word is not shown in front of them.
    """

    verdict: Verdict
    reasons: tuple[str, ...]
    findings: tuple[str, ...] = ()
    in_words_only: bool = False


def record_taken(wanted: type[T], found: object) -> T:
    """A record of the declared class, every value of its field's type."""
    if not isinstance(found, wanted):
        raise Unfit(f"{safe_repr(found)} where {with_article(wanted.__name__)} is wanted")
    is_plain = _IS_PLAIN.get(wanted)
    if is_plain is not None and type(found) is wanted and is_plain(found):
        return found
    return _plain_record(wanted, found)


_IS_PLAIN: Final[dict[type[Any], Callable[[Any], bool]]] = {}


def take_quickly(wanted: type[Any]) -> None:
    """Compile for whoever takes thousands of this record whether one has plain values that fit, so that nothing is to
    do; whatever else it is, is looked at value by value as always."""
    if wanted in _IS_PLAIN or not is_of_fields(wanted):
        return
    scope: dict[str, Any] = {"most": sys.float_info.max, "plain": _plain_value}
    lines = []
    for number, field in enumerate(fields_of(wanted)):
        scope[f"field_{number}"] = field
        other = f"plain(field_{number}, value) is value"
        if field.kind == "quantity":
            other = f"(-most <= value <= most if type(value) is float else {other})"
        lines.append(f"    value = found.{field.name}\n    if not {other}:\n        return False\n")
    exec(f"def is_plain(found):\n{''.join(lines)}    return True\n", scope)
    _IS_PLAIN[wanted] = scope["is_plain"]


def judgement_taken(judged: object) -> Judgement:
    """A judgement with a known verdict and at least one reason."""
    if not isinstance(judged, Judgement):
        raise Unfit(f"{safe_repr(judged)} where a Judgement is wanted")
    verdict = plain_text(judged.verdict) if isinstance(judged.verdict, str) else ""
    if verdict not in VERDICTS:
        raise Unfit(f"the verdict {safe_repr(judged.verdict)}, which is none of {', '.join(VERDICTS)}")
    reasons, findings = _reasons("reasons", judged.reasons), _reasons("findings", judged.findings)
    if not reasons:
        raise Unfit(f"the verdict {verdict} without any reason")
    if not isinstance(judged.in_words_only, bool):
        raise Unfit(f"in_words_only={safe_repr(judged.in_words_only)}, which has to be True or False")
    return Judgement(cast("Verdict", verdict), reasons, findings, judged.in_words_only)


def _reasons(name: str, texts: object) -> tuple[str, ...]:
    if not isinstance(texts, (tuple, list)):
        raise Unfit(f"{name} {safe_repr(texts)}, where a tuple of words is wanted")
    return tuple([_known_reason(name, one) if type(one) is str else _reason(name, one) for one in texts])


def _reason(name: str, text: object) -> str:
    reason = fault_of_text(text)
    if reason is not None or not isinstance(text, str):
        raise Unfit(f"{name} with {reason}")
    return tidied(plain_text(text))


_known_reason: Final = lru_cache(_REASONS_REMEMBERED)(_reason)
"""The same: many results say the same about the scale."""


def working_taken(lines: object) -> tuple[str, ...]:
    """The lines of a working."""
    return tuple(map(tidied, texts_taken(lines)))


def lines_taken(lines: object) -> tuple[CardLine, ...]:
    """The lines of a card."""
    if not isinstance(lines, Iterable):
        raise Unfit(f"{safe_repr(lines)} where lines of the card are wanted")
    return tuple(_line_taken(line) for line in lines)


def picture_taken(picture: object) -> str:
    """A drawing as SVG."""
    text = text_taken(picture)
    if not text.lstrip().startswith("<svg"):
        raise Unfit(f"{safe_repr(text)} where a drawing (<svg ...>) is wanted")
    return text


def _line_taken(line: object) -> CardLine:
    if not isinstance(line, CardLine):
        raise Unfit(f"{safe_repr(line)} where a CardLine is wanted")
    return CardLine(
        text_taken(line.name),
        None if line.value is None else empty_or_text_taken(line.value),
        empty_or_text_taken(line.note),
        empty_or_text_taken(line.unit),
    )


@lru_cache(_RECORDS_REMEMBERED)
def _fields(record: type[Any]) -> tuple[tuple[str, bool, Field], ...]:
    """The fields of a record's class with their names, and whether a float fits."""
    return tuple((field.name, field.kind == "quantity", field) for field in fields_of(record))


def _plain_record(wanted: type[T], found: T) -> T:
    """The record with plain values: the same object if it already has. Raises Unfit for a value that does not fit."""
    is_plain = type(found) is wanted
    values = {}
    for name, takes_float, field in _fields(wanted):  # type: ignore[arg-type]
        value = values[name] = getattr(found, name)
        if not (type(value) is float and takes_float and isfinite(value)):
            plain = values[name] = _plain_value(field, value)
            is_plain = is_plain and plain is value
    return found if is_plain else wanted(**values)


def _plain_value(field: Field, value: object) -> object:
    if value is None:
        if not field.nullable and field.default is not None:
            raise Unfit(f"{field.name}=None, which has to be known")
        return None
    if field.kind == "listing":
        return _plain_listing(field, value)
    if field.is_number:
        return _plain_number(field, value)
    text = plain_text(value) if isinstance(value, str) else None
    if field.choices:
        if text not in field.choices:
            raise Unfit(f"{field.name}={safe_repr(value)}, which is none of {', '.join(field.choices)}")
    elif text != "":
        reason = fault_of_text(value)
        if reason is not None:
            raise Unfit(f"{field.name} with {reason}")
    return text


def _plain_listing(field: Field, values: object) -> object:
    if not isinstance(values, tuple):
        raise Unfit(f"{field.name}={safe_repr(values)}, which has to be a tuple")
    items = []
    for place, item in enumerate(tuple.__iter__(values), start=1):
        if field.item is None or not isinstance(item, field.item):
            wanted = field.item.__name__ if field.item else "record"
            raise Unfit(f"{safe_repr(item)} as item {place} of {field.name}, where {with_article(wanted)} is wanted")
        items.append(_plain_record(field.item, item))
    is_plain = type(values) is tuple and all(map(is_, items, values))
    return values if is_plain else tuple(items)


def _plain_number(field: Field, value: object) -> int | float:
    value = _python_number(value)
    if isinstance(value, int) and not isinstance(value, bool):
        whole = value if type(value) is int else int.__int__(value)
        if abs(whole) > LARGEST_WHOLE:
            raise Unfit(f"{field.name} over {LARGEST_WHOLE:,}")
        return whole
    if field.kind != "quantity" or not isinstance(value, float):
        kind = "a number" if field.kind == "quantity" else "a whole number"
        raise Unfit(f"{field.name}={safe_repr(value)}, which has to be {kind}")
    number = value if type(value) is float else float.__float__(value)
    if not isfinite(number):
        raise NotFinite(f"no finite {field.words} ({field.name}={number})")
    return number


def _python_number(value: object) -> object:
    """A number of numpy as the number of Python that it is; anything else as it is. numpy is not loaded for it."""
    numpy = sys.modules.get("numpy")
    if numpy is None or not isinstance(value, numpy.generic):
        return value
    if isinstance(value, numpy.integer):
        return int(value)
    return float(value) if isinstance(value, numpy.floating) else value
