"""Marks of what was erased: ids alone, so that no mark says what it took out.

A name is known by the id that notes would give to a person of that name, so that it is found again wherever it is
written, and in whatever order laptops meet: marks are united, and what they name is blank on each of them.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Final, NamedTuple
from unicodedata import normalize

from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME
from bevelbook.store.ids import content_id
from bevelbook.store.schema import quoted

ERASED: Final = "erased"
"""What stands in the place of a text; of a name it has a number behind it."""
WORD: Final = re.compile(r"[^\W_](?:[^\W_]|[\u0300-\u036f])*")
"""A word of a text; an accent may follow its letter."""
_NO_DAY: Final = "1970-01-01"
_KIND: Final = BY_NAME["erasure"]
_COLUMNS: Final = _KIND.columns
_NUMBERS: Final = 9_000


class Mark(NamedTuple):
    """What was erased: a ``name`` wherever it is, the ``text`` in a column of a version of a record (of all of them, if
    none is named), a kept ``file`` or a ``picture`` by its hash. ``instead`` is what stands in its place."""

    what: str
    row_id: str
    table_name: str | None = None
    version: str | None = None
    column_name: str | None = None
    instead: str = ERASED
    words: int | None = None
    in_texts: str | None = None

    @property
    def id(self) -> str:
        """The id of its row: the same for the same thing, whoever erased it."""
        named = (self.what, self.table_name, self.row_id, self.version, self.column_name)
        return content_id(_NO_DAY, "\0".join(("erased", *(one or "" for one in named))))


def words_of(name: str) -> tuple[str, ...]:
    """The words of a name without regard to case and to signs between them; a name without a letter is one word.

    >>> words_of("Bo B."), words_of("ANNA-Lena")
    (('bo', 'b'), ('anna', 'lena'))
    """
    found = tuple(word.casefold() for word in WORD.findall(normalize("NFC", name)))
    return found or (folded_label(name),)


@lru_cache(200_000)
def name_id(words: str) -> str:
    """The id by which a name is known, from its words with a blank between them."""
    return content_id(_NO_DAY, f"person\0{words}")


def neutral_name(name: str) -> str:
    """What stands in the place of a name: it follows from the name, so that it is the same on every laptop.

    >>> neutral_name("Anna") == neutral_name("anna"), neutral_name("anna")
    (True, 'erased 3547')
    """
    digits = name_id(" ".join(words_of(name))).replace("-", "")[16:]
    return f"{ERASED} {1_000 + int(digits, 16) % _NUMBERS}"


def mark_of_name(name: str, instead: str, *, in_texts: bool) -> Mark:
    """The mark of a name."""
    words = words_of(name)
    said = "yes" if in_texts else "no"
    return Mark("name", name_id(" ".join(words)), instead=instead, words=len(words), in_texts=said)


def are_any_marks(connection: sqlite3.Connection, schema: str = "main") -> bool:
    """Whether anything was erased."""
    return connection.execute(f"SELECT 1 FROM {schema}.{_KIND.table} LIMIT 1").fetchone() is not None


def marks_in(
    connection: sqlite3.Connection, schemas: Sequence[str] = ("main",), *, what: str | None = None
) -> set[Mark]:
    """The marks of databases; where two say something else of one thing, what both come to say."""
    found: dict[str, Mark] = {}
    cursor = connection.cursor()
    cursor.row_factory = None
    columns = ", ".join(map(quoted, _COLUMNS))
    for schema in schemas:
        asked = f"SELECT {columns} FROM {schema}.{_KIND.table} WHERE ?1 IS NULL OR what = ?1 ORDER BY id"
        for row in cursor.execute(asked, (what,)).fetchall():
            mark = Mark(**dict(zip(_COLUMNS, row, strict=True)))
            known = found.get(mark.id)
            found[mark.id] = mark if known is None else _both(known, mark)
    return set(found.values())


def _both(one: Mark, other: Mark) -> Mark:
    return one._replace(
        instead=min(one.instead, other.instead),
        words=one.words if other.words is None else max(one.words or 0, other.words),
        in_texts="yes" if "yes" in (one.in_texts, other.in_texts) else one.in_texts or other.in_texts,
    )


def keep_marks(connection: sqlite3.Connection, marks: Iterable[Mark], schema: str = "main") -> int:
    """Keep marks, inside the caller's transaction; returns how many were not there."""
    names = ("id", *_COLUMNS)
    added = 0
    for mark in sorted(marks, key=lambda one: one.id):
        known = connection.execute(f"SELECT 1 FROM {schema}.{_KIND.table} WHERE id = ?", (mark.id,)).fetchone()
        added += known is None
        connection.execute(
            f"INSERT INTO {schema}.{_KIND.table} ({', '.join(map(quoted, names))}) "
            f"VALUES ({', '.join('?' * len(names))}) ON CONFLICT (id) DO UPDATE SET instead = excluded.instead, "
            "words = excluded.words, in_texts = excluded.in_texts",
            (mark.id, *(getattr(mark, name) for name in _COLUMNS)),
        )
    return added
