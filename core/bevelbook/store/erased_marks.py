"""Marks of what was erased: ids alone, so that no mark says what it took out.

A name is known by ids that are made of it, one for each key of ``reading/names_in_texts.py``, so that it is found again
however it is written, and in whatever order laptops meet: marks are united, and what they name is blank on each of
them. A name that is like a team mate's when it is spelled otherwise has the id of its exact spelling; a part of a name
has an id of its own kind, which blanks texts and nobody's name.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.reading.names_in_texts import exact_key, keys_of_name, keys_of_name_word, words_of
from bevelbook.records import BY_NAME
from bevelbook.store.ids import content_id
from bevelbook.store.schema import quoted

ERASED: Final = "erased"
"""What stands in the place of a text; of a name it has a number behind it."""
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


@lru_cache(200_000)
def name_id(key: str) -> str:
    """The id by which a whole name is known, by a key of it."""
    return content_id(_NO_DAY, f"person\0{key}")


@lru_cache(200_000)
def exact_name_id(key: str) -> str:
    """The id by which a name is known that is meant as it is written alone."""
    return content_id(_NO_DAY, f"exact name\0{key}")


@lru_cache(200_000)
def part_id(key: str) -> str:
    """The id by which a part of a name is known."""
    return content_id(_NO_DAY, f"part of a name\0{key}")


def neutral_name(name: str) -> str:
    """What stands in the place of a name: it follows from the name, so that it is the same on every laptop.

    >>> neutral_name("Anna") == neutral_name("anna"), neutral_name("anna")
    (True, 'erased 3547')
    """
    digits = name_id(exact_key(name)).replace("-", "")[16:]
    return f"{ERASED} {1_000 + int(digits, 16) % _NUMBERS}"


def marks_of_name(name: str, instead: str, *, in_texts: bool, others: Collection[str] = ()) -> set[Mark]:
    """The marks of a whole name, one for each way in which it may be written; where ``others`` have one of these keys,
    that of its exact spelling beside the rest."""
    keys = keys_of_name(name)
    ids = [name_id(key) for key in keys if key not in others]
    if len(ids) < len(keys):
        ids.append(exact_name_id(exact_key(name)))
    said = "yes" if in_texts else "no"
    return {Mark("name", one, instead=instead, words=len(words_of(name)), in_texts=said) for one in ids}


def marks_of_part(part: str, instead: str) -> set[Mark]:
    """The marks of a part of a name, which is looked for in texts alone."""
    return marks_of_part_keys(keys_of_name_word(part), instead)


def marks_of_part_keys(keys: Iterable[str], instead: str) -> set[Mark]:
    """The marks of keys of parts of a name, also with an initial."""
    return {Mark("name", part_id(key), instead=instead, words=1, in_texts="yes") for key in keys}


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
