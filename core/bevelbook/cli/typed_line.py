"""A command line as far as it is typed: its words, and what of the last one a shell would replace."""

from __future__ import annotations

from typing import Final, NamedTuple

_BREAKS: Final = frozenset("=:<>;|&(")
"""Signs after which bash begins a new piece to complete (its ``COMP_WORDBREAKS``)."""
_PLAIN: Final = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./,:=@%+#")
_ESCAPED_IN_DOUBLE: Final = frozenset('"\\$`')


class TypedLine(NamedTuple):
    """The complete words, and the last one: ``begun`` as the program would get it, ``held`` the part of that which bash
    leaves alone, ``quote`` the quotation mark that is still open."""

    words: tuple[str, ...]
    begun: str
    held: str
    quote: str

    def in_bash(self, whole: str) -> str | None:
        """What bash is to put in place of its piece, for a whole word; None where it cannot be typed so."""
        if not whole.startswith(self.held):
            return None
        rest = whole[len(self.held) :]
        if self.quote == "'":
            return None if "'" in rest else rest
        if self.quote:
            return "".join(f"\\{one}" if one in _ESCAPED_IN_DOUBLE else one for one in rest)
        return "".join(one if one in _PLAIN or not one.isascii() else f"\\{one}" for one in rest)


def typed_line(line: str) -> TypedLine:
    """The words of a line that ends where the cursor is.

    >>> typed_line("bevelbook record build bui")
    TypedLine(words=('bevelbook', 'record', 'build'), begun='bui', held='', quote='')
    >>> typed_line('bevelbook card "rear A/')[1:], typed_line("bevelbook record build like=rear\\\\ A")[1:]
    (('rear A/', '', '"'), ('like=rear A', 'like=', ''))
    """
    words: list[str] = []
    last, quote, held = "", "", 0
    is_begun = is_escaped = False
    for sign in line:
        if is_escaped:
            is_escaped = False
            last += sign if not quote or sign in _ESCAPED_IN_DOUBLE else f"\\{sign}"
        elif sign == "\\" and quote != "'":
            is_escaped = is_begun = True
        elif quote and sign == quote:
            quote, held = "", len(last)
        elif quote:
            last += sign
        elif sign in "'\"":
            quote, held, is_begun = sign, len(last), True
        elif sign.isspace():
            if is_begun:
                words.append(last)
            last, held, is_begun = "", 0, False
        else:
            last += sign
            is_begun = True
            held = len(last) if sign in _BREAKS else held
    return TypedLine(tuple(words), last, last[:held], quote)
