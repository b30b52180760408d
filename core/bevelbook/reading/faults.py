"""What goes wrong when a text is read: one error with a reason code."""

from __future__ import annotations

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.fields import Field
from bevelbook.reading.options import ReadingOption


class ReadingError(InputError):
    """A text that is not a valid value of its field. ``code`` is the reason code of an import.

    ``settled_by`` is the option that decides such a reading where a file is read; ``remedy`` does without it.
    """

    settled_by: ReadingOption | None = None

    def at(self, place: Place) -> ReadingError:
        """The same fault at another place: another field, a line of a file."""
        moved = ReadingError(
            self.what, code=self.code, place=place, found=self.found, wanted=self.wanted, remedy=self.remedy
        )
        moved.settled_by = self.settled_by
        return moved


def fault(
    field: Field,
    code: str,
    what: str,
    text: str | None,
    *,
    wanted: str | None = None,
    remedy: str | None = None,
    settled_by: ReadingOption | None = None,
) -> ReadingError:
    """A ReadingError about the field."""
    made = ReadingError(what, code=code, place=Place(field=field.name), found=text, wanted=wanted, remedy=remedy)
    made.settled_by = settled_by
    return made


NUMBER_MISSING = frozenset(("", "-", "--", "–", "—", "?", "n/a", "na", "none", "null", "nan"))
TEXT_MISSING = frozenset(("", "-", "n/a"))
SAYS_NOTHING = "-–—−‐‑‒―?？ "
"""A text of these alone says that there is nothing."""
INVISIBLE = "\u200b\u200c\u200d\u2060\ufeff"


def is_no_value(plain: str) -> bool:
    """Whether a trimmed text stands where a number, a day, a time or a word of a list would, and says that there is
    none.

    >>> [is_no_value(text) for text in ("", "n/a", "NULL", "—", "−", "??", "0", "none of it")]
    [True, True, True, True, True, True, False, False]
    """
    return plain.lower() in NUMBER_MISSING or not plain.strip(SAYS_NOTHING)


def trimmed(text: str) -> str:
    """The text without blanks, no-break blanks and invisible characters at both ends."""
    plain = text.strip()
    while plain and (plain[0] in INVISIBLE or plain[-1] in INVISIBLE):
        plain = plain.strip(INVISIBLE).strip()
    return plain


def has_control_character(text: str) -> bool:
    """Whether a control character other than tab and line break is in the text, or half of a surrogate pair, which no
    file can hold."""
    return not text.isprintable() and any(
        (c < " " and c not in "\t\n\r") or "\x7f" <= c <= "\x9f" or "\ud800" <= c <= "\udfff" for c in text
    )
