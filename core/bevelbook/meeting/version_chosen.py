"""Which version of a clash a person means: by its number, by its value where one field differs, or both."""

from __future__ import annotations

from typing import Literal

from bevelbook.declare.errors import BevelbookError, InputError
from bevelbook.declare.fields import Field
from bevelbook.meeting.settled_clash import Which
from bevelbook.reading import read
from bevelbook.reports.clashes import BOTH, ClashSaid
from bevelbook.store.clashes import ClashFound

_MOST_DIGITS = 4


def version_chosen(clash: ClashSaid, found: ClashFound, typed: str) -> Which:
    """The number of the version that is meant, or ``both``. Raises InputError where that is not clear.

    A value may be typed as it is printed, as ``record`` takes it, or as FIELD=VALUE.
    """
    text = typed.strip()
    if text.casefold() == BOTH:
        both: Literal["both"] = "both"
        return both
    by_value = _by_value(clash, found, text)
    number = int(text) if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS else None
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
    numbers = "; ".join(one.line for one in clash.versions)
    both_words = f"; or both, {clash.both}" if clash.both else ""
    what = "several versions say that" if by_value else "no version of this clash says that"
    raise InputError(
        what,
        code="no_such_version",
        found=typed,
        remedy=f"Choose by the number: {numbers}{both_words}. Nothing was settled.",
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
