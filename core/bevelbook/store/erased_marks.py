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

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.reading.names_in_texts import exact_key, keys_of_name, keys_of_name_word, words_of
from bevelbook.records import BY_NAME
from bevelbook.store.erasable_columns import is_marked
from bevelbook.store.ids import content_id
from bevelbook.store.schema import quoted

ERASED: Final = "erased"
"""What stands in the place of a text; of a name it has a number behind it."""
_NO_DAY: Final = "1970-01-01"
_HEX: Final = frozenset("0123456789abcdef")
_KIND: Final = BY_NAME["erasure"]
_COLUMNS: Final = _KIND.columns
_NUMBERS: Final = 9_000
_INSTEAD: Final = late_pattern(rf"{ERASED}(?: [1-9][0-9]{{3}})?")
"""All that an erasing ever puts in the place of something."""


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

    @property
    def is_as_made(self) -> bool:
        """Whether an erasing may have said it so of this thing.

        >>> Mark("name", "1", instead="erased 3547", words=1, in_texts="yes").is_as_made, Mark("file", "1").is_as_made
        (True, True)
        >>> Mark("text", "1", "runs", "2", "note").is_as_made, Mark("text", "1", "runs", "2", "run_on").is_as_made
        (True, False)
        >>> Mark("text", "1", "runs", "2", "note", "Zed").is_as_made, Mark("name", "1").is_as_made
        (False, False)
        """
        is_of_a_name = [one is not None for one in (self.words, self.in_texts)]
        return self.is_instead_as_made and self.is_of_what_may_go and is_of_a_name == [self.what == "name"] * 2

    @property
    def is_of_what_may_go(self) -> bool:
        """Whether an erasing ever takes out what this names: words of people, and never a number or a diff's name."""
        place = (self.table_name, self.version, self.column_name)
        return is_marked(*place) if self.what == "text" else place == (None, None, None)

    @property
    def is_instead_as_made(self) -> bool:
        """Whether what stands in its place is of the form that an erasing writes."""
        return _INSTEAD.fullmatch(self.instead) is not None


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
    return _numbered(name_id(exact_key(name)))


def _numbered(row_id: str) -> str:
    """``erased`` with the number that follows from the id of a name."""
    digits = "".join(sign for sign in row_id.casefold() if sign in _HEX)[16:]
    return f"{ERASED} {1_000 + int(digits or '0', 16) % _NUMBERS}"


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
    """The marks of databases; where two say something else of one thing, what both come to say. A row with an id that
    its content does not give is none, nor is one of what no erasing takes out: no erasing made it."""
    return united_marks(
        mark
        for schema in schemas
        for row_id, mark in marks_as_kept(connection, schema, what=what).items()
        if mark.id == row_id and mark.is_of_what_may_go
    )


def marks_as_kept(connection: sqlite3.Connection, schema: str = "main", *, what: str | None = None) -> dict[str, Mark]:
    """What the rows of one database say, by the id of the row, also where another program wrote it."""
    cursor = connection.cursor()
    cursor.row_factory = None
    columns = ", ".join(map(quoted, _COLUMNS))
    asked = f"SELECT id, {columns} FROM {schema}.{_KIND.table} WHERE ?1 IS NULL OR what = ?1 ORDER BY id"
    return {
        str(row_id): Mark(**dict(zip(_COLUMNS, values, strict=True)))
        for row_id, *values in cursor.execute(asked, (what,)).fetchall()
    }


def united_marks(marks: Iterable[Mark]) -> set[Mark]:
    """Marks from several places as one set, in which each thing has one mark. What another program put in the place of
    something gives way to what an erasing did; where no erasing did, to what follows from the id."""
    found: dict[str, Mark] = {}
    for mark in marks:
        known = found.get(mark.id)
        found[mark.id] = mark if known is None else _both(known, mark)
    return {one if one.is_instead_as_made else one._replace(instead=_of_id(one)) for one in found.values()}


def _of_id(mark: Mark) -> str:
    return _numbered(mark.row_id) if mark.what == "name" else ERASED


def _both(one: Mark, other: Mark) -> Mark:
    lesser, greater = sorted((one, other), key=lambda mark: mark.instead)
    return one._replace(
        instead=lesser.instead if lesser.is_instead_as_made or not greater.is_instead_as_made else greater.instead,
        words=one.words if other.words is None else max(one.words or 0, other.words),
        in_texts="yes" if "yes" in (one.in_texts, other.in_texts) else one.in_texts or other.in_texts,
    )


def keep_marks(connection: sqlite3.Connection, marks: Iterable[Mark], schema: str = "main") -> int:
    """Keep marks, inside the caller's transaction; returns how many were not there. A row that has the id of one and
    says something else, as another program left it, says afterwards what the mark does."""
    names = ("id", *_COLUMNS)
    kept = marks_as_kept(connection, schema)
    changed = ", ".join(f"{quoted(name)} = excluded.{quoted(name)}" for name in _COLUMNS)
    added = 0
    for mark in sorted(marks, key=lambda one: one.id):
        known = kept.get(mark.id)
        if known == mark:
            continue
        added += known is None or known.id != mark.id
        connection.execute(
            f"INSERT INTO {schema}.{_KIND.table} ({', '.join(map(quoted, names))}) "
            f"VALUES ({', '.join('?' * len(names))}) ON CONFLICT (id) DO UPDATE SET {changed}",
            (mark.id, *(getattr(mark, name) for name in _COLUMNS)),
        )
    return added
