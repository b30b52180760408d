"""A statement that made a table, an index or a trigger, in pieces: so that two of them are compared by what they say.

Nothing is run: it is only text. What our own statements never have, such as a comment, is in no piece.
"""

from __future__ import annotations

import re
from typing import Final

from bevelbook.declare.late_pattern import late_pattern

_TOKEN: Final = late_pattern(
    r"\s+|'(?:[^']|'')*'|\"(?:[^\"]|\"\")*\"|\[[^\]]*\]|`[^`]*`|[\w.$]+|<=|>=|<>|\|\||[(),;<>=+*/%-]"
)
_NAME: Final = late_pattern(r"\w+")
PLAIN_COLUMN: Final = late_pattern(
    r"(?i:(?!(?:rowid|oid|_rowid_)\b)[A-Za-z_]\w*(?: (?:TEXT|REAL|INTEGER|INT|BLOB|ANY))?)", re.I
)
"""A column that only holds what is put into it."""


def pieces_of(sql: str) -> tuple[tuple[str, ...], str] | None:
    """The columns and constraints of a CREATE TABLE in turn, and what follows them; None for anything else.

    >>> pieces_of('CREATE TABLE "t" (a TEXT,  b REAL CHECK (b > 0)) STRICT')
    (('a TEXT', 'b REAL CHECK ( b > 0 )'), 'STRICT')
    """
    tokens = tokens_of(sql)
    if tokens is None or [one.upper() for one in tokens[:2]] != ["CREATE", "TABLE"] or tokens[3:4] != ["("]:
        return None
    pieces: list[list[str]] = [[]]
    depth = 1
    for place, token in enumerate(tokens[4:], start=4):
        depth += {"(": 1, ")": -1}.get(token, 0)
        if depth == 0:
            return tuple(" ".join(piece) for piece in pieces), " ".join(tokens[place + 1 :])
        if token == "," and depth == 1:
            pieces.append([])
        else:
            pieces[-1].append(token)
    return None


def single_spaced(sql: str) -> str:
    """A statement with single spaces and names without quotes; empty where it has something that ours never have."""
    return " ".join(tokens_of(sql) or ())


def tokens_of(sql: str) -> list[str] | None:
    """Its words and signs in turn, names without quotes; None where it has something that ours never have."""
    found = []
    place = 0
    while place < len(sql):
        token = _TOKEN.match(sql, place)
        if token is None:
            return None
        place = token.end()
        written = token[0]
        if written[0] in '"[`' and _NAME.fullmatch(written[1:-1]):
            written = written[1:-1]
        if not written.isspace():
            found.append(written)
    return found
