"""What the functions of a calculator return, held against what it declares.

Each of these takes a value as it was returned, and raises :class:`bevelbook.guard.Unfit` with the reason where it is
not what was declared.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from math import isfinite
from typing import Any, Final, Literal, NamedTuple, TypeVar, get_args

from bevelbook.fields import Field, fields_of
from bevelbook.guard import NotFinite, Unfit, fault_of_text, safe_repr, text_taken, texts_taken
from bevelbook.surfaces import CardLine

T = TypeVar("T")

Verdict = Literal["ok", "caution", "stop", "unclear"]
VERDICTS: Final[tuple[str, ...]] = get_args(Verdict)
LARGEST_WHOLE: Final = 2**63 - 1
"""The largest whole number that a database keeps as one."""
_RECORDS_REMEMBERED: Final = 256


class Judgement(NamedTuple):
    """The verdict in words.

    ``reasons`` say why, in grams, minutes, labels and words first; there is at least one. ``findings`` are things worth
    a look that do not change the verdict (an extrapolation, a value that differs from the last one). A limit that
    nobody published is called ``this project's proposal`` where it is named.
    """

    verdict: Verdict
    reasons: tuple[str, ...]
    findings: tuple[str, ...] = ()


def record_taken(wanted: type[T], found: object) -> T:
    """A record of the class declared, every value of the kind of its field."""
    if not isinstance(found, wanted):
        raise Unfit(f"{safe_repr(found)} where a {wanted.__name__} is wanted")
    _check_values(found)
    return found


def judgement_taken(judged: object) -> Judgement:
    """A judgement with a verdict of ours and at least one reason."""
    if not isinstance(judged, Judgement):
        raise Unfit(f"{safe_repr(judged)} where a Judgement is wanted")
    if not isinstance(judged.verdict, str) or judged.verdict not in VERDICTS:
        raise Unfit(f"the verdict {safe_repr(judged.verdict)}, which is none of {', '.join(VERDICTS)}")
    for name, texts in (("reasons", judged.reasons), ("findings", judged.findings)):
        if not isinstance(texts, (tuple, list)):
            raise Unfit(f"{name} {safe_repr(texts)}, where a tuple of words is wanted")
        for text in texts:
            reason = fault_of_text(text)
            if reason is not None:
                raise Unfit(f"{name} with {reason}")
    if not judged.reasons:
        raise Unfit(f"the verdict {judged.verdict} without any reason")
    return Judgement(judged.verdict, tuple(judged.reasons), tuple(judged.findings))


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
    text_taken(line.name)
    texts_taken([line.note, line.unit, *([] if line.value is None else [line.value])])
    return line


@lru_cache(_RECORDS_REMEMBERED)
def _fields(record: type[Any]) -> tuple[tuple[str, bool, Field], ...]:
    """The fields of a record's class with their names, and whether a float fits."""
    return tuple((field.name, field.kind == "quantity", field) for field in fields_of(record))


def _check_values(found: object) -> None:
    for name, takes_float, field in _fields(type(found)):  # type: ignore[arg-type]
        value = getattr(found, name)
        if not (type(value) is float and takes_float and isfinite(value)):
            _check_value(field, value)


def _check_value(field: Field, value: object) -> None:
    if value is None:
        if not field.nullable and field.default is not None:
            raise Unfit(f"{field.name}=None, which has to be known")
    elif field.kind == "listing":
        _check_listing(field, value)
    elif field.is_number:
        _check_number(field, value)
    elif field.choices:
        if not isinstance(value, str) or value not in field.choices:
            raise Unfit(f"{field.name}={safe_repr(value)}, which is none of {', '.join(field.choices)}")
    elif value != "":
        reason = fault_of_text(value)
        if reason is not None:
            raise Unfit(f"{field.name} with {reason}")


def _check_listing(field: Field, values: object) -> None:
    if not isinstance(values, tuple):
        raise Unfit(f"{field.name}={safe_repr(values)}, which has to be a tuple")
    for place, item in enumerate(values, start=1):
        if field.item is None or not isinstance(item, field.item):
            wanted = field.item.__name__ if field.item else "record"
            raise Unfit(f"{safe_repr(item)} as item {place} of {field.name}, where a {wanted} is wanted")
        _check_values(item)


def _check_number(field: Field, value: object) -> None:
    wanted = (int, float) if field.kind == "quantity" else int
    if isinstance(value, bool) or not isinstance(value, wanted):
        kind = "a number" if field.kind == "quantity" else "a whole number"
        raise Unfit(f"{field.name}={safe_repr(value)}, which has to be {kind}")
    if isinstance(value, int) and abs(value) > LARGEST_WHOLE:
        raise Unfit(f"{field.name} over {LARGEST_WHOLE:,}")
    if not isfinite(value):
        raise NotFinite(f"no finite {field.words} ({field.name}={value})")
