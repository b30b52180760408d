"""Which version of a clash a person means: by its number, by its value where one field differs, or both; or one with
what the others changed beside it."""

from __future__ import annotations

import re
from typing import Final

from bevelbook.declare.errors import BevelbookError, InputError
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.meeting.settled_clash import no_such_number
from bevelbook.reading import read
from bevelbook.reports.clashes import BOTH, ClashSaid
from bevelbook.store.clashes import ClashFound, Which, WithOthers

_MOST_DIGITS: Final = 4
_WITH_OTHERS: Final = late_pattern(rf"(\d{{1,{_MOST_DIGITS}}})\s*(?:\+|and)\s*others", re.ASCII | re.IGNORECASE)


def which_typed(typed: str) -> Which | None:
    """A number, ``both``, or a number with ``+others``, as the program itself prints it; None for anything else.

    >>> which_typed("2"), which_typed("both"), which_typed("2+others"), which_typed("46.13 g")
    (2, 'both', WithOthers(number=2), None)
    """
    text = typed.strip()
    if text.casefold() == BOTH:
        return "both"
    joined = _WITH_OTHERS.fullmatch(text)
    if joined:
        return WithOthers(int(joined[1]))
    return int(text) if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS else None


def version_chosen(clash: ClashSaid, found: ClashFound, typed: str) -> Which:
    """The version that is meant: its number, both, or one with what the others changed.

    A value may be typed as it is printed, as ``record`` takes it, or as FIELD=VALUE. Raises InputError where it is not
    clear what is meant.
    """
    text = typed.strip()
    number = which_typed(text)
    if number is not None and not isinstance(number, int):
        return number
    by_value = _by_value(clash, found, text)
    if number is not None and number <= len(clash.versions) and number > 0:
        if by_value in ([], [number]):
            return number
        field = found.differing[0]
        raise InputError(
            f"{text} may be the number of a version or its value",
            code="number_or_value",
            remedy=f"Name its value: {' or '.join(f'{field}={one.words}' for one in clash.versions)}. "
            "Nothing was settled.",
        )
    if len(by_value) == 1:
        return by_value[0]
    if number is not None and not by_value:
        raise no_such_number(clash, number)
    what = "several versions say that" if by_value else "no version of this clash says that"
    raise InputError(
        what,
        code="no_such_version",
        found=typed,
        remedy=f"Choose by the number: {clash.choices}. Nothing was settled.",
    )


def _by_value(clash: ClashSaid, found: ClashFound, text: str) -> list[int]:
    """The numbers of the versions with that value, where one field differs; of those that read alike the exact one."""
    if text.casefold() in ("removed", "kept") and found.why != "changed":
        return [one.number for one in clash.versions if one.is_removed == (text.casefold() == "removed")]
    if len(found.differing) != 1 or found.why != "changed":
        return []
    field = found.kind.field(found.differing[0])
    name, _, value = text.partition("=")
    if value and name.strip() in (field.name, field.stem):
        text = value.strip()
    heads = list(zip(clash.versions, found.heads, strict=True))
    same_text = [one.number for one, _ in heads if _folded(one.words) == _folded(text)]
    if len(same_text) == 1:
        return same_text
    value_read = _read(field, text)
    if value_read is None:
        return []
    return [one.number for one, head in heads if (head.content or {}).get(field.name) == value_read]


def _read(field: Field, text: str) -> object:
    if field.kind == "reference":
        return None
    try:
        return read(field, text)
    except BevelbookError:
        return None


def _folded(text: str) -> str:
    return "".join(text.casefold().split())
