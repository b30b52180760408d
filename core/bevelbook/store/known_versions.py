"""Every version of a record that a database knows: the row itself and its history, each version once.

The same version met in two databases is one: what each of them knows of it is put together by a rule that depends on
neither order nor place. That is for what the tool itself writes in two ways; where another program changed a content,
a meeting has what stands here stay (``meeting/versions_met.py``).
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from bevelbook.kept_json import object_in
from bevelbook.records import Kind
from bevelbook.store.as_written import written_references
from bevelbook.store.heads import Content, Version, derived_columns, in_order
from bevelbook.store.schema import content_json
from bevelbook.store.triggers import content_sql
from bevelbook.store.versions import after, parents_in

HistoryRow = tuple[str, str | None, str | None, str | None, str | None]
"""A row of the history of a record: version, parents, content, replaced_in, replaced_at."""


class Copy(NamedTuple):
    """One version as one row has it. ``text`` is its content as JSON, None for a removal."""

    version: str
    parents: frozenset[str]
    text: str | None
    replaced_in: str | None
    replaced_at: str | None

    @property
    def is_past(self) -> bool:
        """Whether something replaced it there: what placing set is what it was then."""
        return self.replaced_at is not None

    @property
    def _replaced(self) -> tuple[bool, str, bool, str]:
        return (
            self.replaced_at is None,
            self.replaced_at or "",
            self.replaced_in is None,
            self.replaced_in or "",
        )


class KnownRecord:
    """The versions of one record, from one database or several."""

    def __init__(self, kind: Kind) -> None:
        self.kind = kind
        self.copies: dict[str, Copy] = {}

    def add(self, copy: Copy, connection: sqlite3.Connection) -> None:
        """Add a version as a row has it."""
        known = self.copies.get(copy.version)
        self.copies[copy.version] = copy if known is None else _united(self.kind, known, copy, connection)
        self.__dict__.pop("versions", None)

    def replace(self, copy: Copy) -> None:
        """Have a version be as this copy of it."""
        self.copies[copy.version] = copy
        self.__dict__.pop("versions", None)

    @cached_property
    def versions(self) -> dict[str, Version]:
        """The versions with their contents read, by id."""
        return {
            one.version: Version(one.version, one.parents, None if one.text is None else object_in(one.text) or {})
            for one in self.copies.values()
        }

    def history(self, but: str | None) -> list[HistoryRow]:
        """The rows of its history in order, without the version that the table shows."""
        return [
            (one.version, after(*one.parents) if one.parents else None, one.text, one.replaced_in, one.replaced_at)
            for one in (self.copies[each.version] for each in in_order(self.versions.values()))
            if one.version != but
        ]


def _united(kind: Kind, one: Copy, other: Copy, connection: sqlite3.Connection) -> Copy:
    """One version of two: of two contents the one that was written first, then the one that knows more columns, then
    the lesser text; of what replaced it the earlier; and of what placing set what it was when something replaced it."""
    parents = one.parents | other.parents
    first = min(one, other, key=lambda copy: copy._replaced)
    text = one.text
    if one.text is None or other.text is None:
        text = one.text if other.text is None else other.text
    elif one.text != other.text:
        text = _one_text(kind, one, other, connection)
    return Copy(one.version, parents, text, first.replaced_in, first.replaced_at)


def _one_text(kind: Kind, one: Copy, other: Copy, connection: sqlite3.Connection) -> str:
    texts = (one.text or "", other.text or "")
    contents = [object_in(text) for text in texts]
    if contents[0] is None or contents[1] is None:
        return min(
            text for text, content in zip(texts, contents, strict=True) if content is not None or not any(contents)
        )
    keys = [(*_key(kind, content), text) for content, text in zip(contents, texts, strict=True) if content is not None]
    chosen = keys.index(min(keys))
    derived = derived_columns(kind, contents[chosen] or {})
    if not derived:
        return texts[chosen]
    placed = [{name: (content or {}).get(name) for name in sorted(derived)} for content in contents]
    wanted = min(placed, key=content_json) if one.is_past == other.is_past else placed[0 if one.is_past else 1]
    return with_columns(
        connection, texts[chosen], {name: value for name, value in wanted.items() if placed[chosen].get(name) != value}
    )


def _key(kind: Kind, content: Content) -> tuple[str, int, str]:
    aside = derived_columns(kind, content)
    known = [name for name in kind.columns if name in content and name not in aside]
    kept = {name: value for name, value in content.items() if value is not None and name not in aside}
    return str(content.get("created_at") or ""), -len(known), content_json(kept)


def with_columns(connection: sqlite3.Connection, text: str, values: Mapping[str, object]) -> str:
    """A content with other values of some columns; its numbers as they were written."""
    for name, value in values.items():
        (text,) = connection.execute("SELECT json_set(?, ?, ?)", (text, f"$.{name}", value)).fetchone()
    return text


def without_columns(connection: sqlite3.Connection, text: str, names: Iterable[str]) -> str:
    """A content without some columns; its numbers as they were written."""
    for name in names:
        (text,) = connection.execute("SELECT json_remove(?, ?)", (text, f"$.{name}")).fetchone()
    return text


def known_records(
    connection: sqlite3.Connection, kind: Kind, ids: Sequence[str], schemas: Sequence[str] = ("main",)
) -> dict[str, KnownRecord]:
    """What these databases know of the records with these ids; ids that none of them knows are left out."""
    found: dict[str, KnownRecord] = {}
    for schema in schemas:
        for row_id, copy in _shown(connection, kind, ids, schema):
            found.setdefault(row_id, KnownRecord(kind)).add(copy, connection)
        for row_id, rows in past_rows(connection, kind, ids, schema).items():
            record = found.setdefault(row_id, KnownRecord(kind))
            for version, parents, text, replaced_in, replaced_at in rows:
                record.add(Copy(version, parents_in(parents), text, replaced_in, replaced_at), connection)
    return found


def _shown(connection: sqlite3.Connection, kind: Kind, ids: Sequence[str], schema: str) -> Iterator[tuple[str, Copy]]:
    """The rows as the history would keep them: with references as they were written."""
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = cursor.execute(
        f"SELECT t.id, t.version, t.parents, {content_sql(kind, 't')} FROM {schema}.{kind.table} t "
        "WHERE t.id IN (SELECT value FROM json_each(?))",
        (json.dumps(list(ids)),),
    ).fetchall()
    written = written_references(connection, kind, ids) if rows and schema == "main" else {}
    for row_id, version, parents, text in rows:
        content = with_columns(connection, text, written[row_id]) if row_id in written else text
        yield row_id, Copy(version, parents_in(parents), content, None, None)


def past_rows(
    connection: sqlite3.Connection, kind: Kind, ids: Sequence[str], schema: str = "main"
) -> dict[str, list[HistoryRow]]:
    """The history of these records or rows as it is kept, by id."""
    cursor = connection.cursor()
    cursor.row_factory = None
    found: dict[str, list[HistoryRow]] = {}
    for row_id, version, parents, text, replaced_in, replaced_at in cursor.execute(
        f"SELECT row_id, version, parents, content, replaced_in, replaced_at FROM {schema}.history "
        "WHERE table_name = ? AND row_id IN (SELECT value FROM json_each(?)) ORDER BY row_id, id",
        (kind.table, json.dumps(list(ids))),
    ):
        found.setdefault(row_id, []).append((version, parents, text, replaced_in, replaced_at))
    return found


def history_in_order(rows: Sequence[HistoryRow]) -> list[HistoryRow]:
    """The history of one record of versions in the order that follows from nothing but the rows themselves: each after
    those that it followed; of those that may come next first the earlier, then the lesser version."""
    if all(parents_in(later[1]) == {former[0]} for former, later in pairwise(rows)):
        return list(rows)
    by_version: dict[str, list[HistoryRow]] = {}
    for row in rows:
        by_version.setdefault(row[0], []).append(row)
    versions = [
        Version(version, parents_in(same[0][1]), None if same[0][2] is None else object_in(same[0][2]) or {})
        for version, same in by_version.items()
    ]
    return [row for one in in_order(versions) for row in by_version[one.version]]


def shown_versions(
    connection: sqlite3.Connection, kind: Kind, ids: Iterable[str], schema: str = "main"
) -> dict[str, str]:
    """The version that the table shows of each of these records that it has."""
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = cursor.execute(
        f"SELECT id, version FROM {schema}.{kind.table} WHERE id IN (SELECT value FROM json_each(?))",
        (json.dumps(list(ids)),),
    )
    return dict(map(tuple, rows))
