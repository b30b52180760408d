"""One version of a record as two books have it.

A version is written once, so both say the same. Where they do not, either the tool itself wrote it in two places, as an
import of one sheet on two laptops does: then one rule makes one of both, wherever they meet. Or another program changed
one of the books without making a version: then what stands here stays, and the difference is named.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.kept_json import object_in
from bevelbook.meeting.labels_met import may_be_counted
from bevelbook.meeting.other_database import OTHER
from bevelbook.notes.note_columns import WORKED_OUT
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.heads import Content, derived_columns
from bevelbook.store.ids import is_content_id
from bevelbook.store.known_versions import Copy, KnownRecord, known_records
from bevelbook.store.schema import BOOKKEEPING
from bevelbook.store.written_otherwise import names_ever

_BOOKS: Final = tuple(BOOKKEEPING)[2:]
"""The bookkeeping columns that belong to the content."""
_JOIN: Final = BY_NAME["join"]


class Apart(NamedTuple):
    """A version that says something else here and there: its content in each, None where it is a removal, and the
    columns that differ (none where one of them is a removal). ``is_settled`` is set where somebody typed what stands
    there later, as a change of their own."""

    kind: Kind
    row_id: str
    version: str
    here: Content | None
    there: Content | None
    columns: tuple[str, ...]
    is_settled: bool


class VersionsMet:
    """Puts together what both databases know of records, in the transaction of a meeting and after all records came;
    ``last_rowids`` has by table the last row that was here before."""

    def __init__(self, connection: sqlite3.Connection, last_rowids: Mapping[str, int]) -> None:
        self.connection = connection
        self.last_rowids = last_rowids
        self.apart: list[Apart] = []

    def records(self, kind: Kind, ids: Sequence[str]) -> dict[str, KnownRecord]:
        """All versions of these records that either database knows, by id; ``apart`` has then of which of them what
        stands here stayed."""
        found = known_records(self.connection, kind, ids)
        for row_id, theirs in known_records(self.connection, kind, ids, (OTHER,)).items():
            record = found.setdefault(row_id, KnownRecord(kind))
            otherwise: dict[str, tuple[Copy, tuple[str, ...]]] = {}
            for copy in theirs.copies.values():
                own = record.copies.get(copy.version)
                columns = None if own is None else self._written_otherwise(kind, own, copy)
                if own is not None and columns is not None:
                    otherwise[copy.version] = copy, columns
                    copy = copy._replace(text=own.text)
                record.add(copy, self.connection)
            for version, (copy, columns) in otherwise.items():
                here, there = record.versions[version].content, _content(copy)
                is_settled = _is_said_later(record, version, there, columns)
                self.apart.append(Apart(kind, row_id, version, here, there, columns, is_settled))
        return found

    def _written_otherwise(self, kind: Kind, own: Copy, theirs: Copy) -> tuple[str, ...] | None:
        """The columns in which another program changed a version; None where the tool may have written both."""
        if own.text == theirs.text:
            return None
        if own.text is None or theirs.text is None:
            return ()
        here, there = object_in(own.text), object_in(theirs.text)
        if here is None or there is None:
            return None
        is_found = self._may_be_found if is_content_id(own.version) else self._is_one_thing
        differing = [
            name
            for name in _written(kind, own.version, here, there)
            if here[name] != there[name] and not is_found(kind, name, here[name], there[name])
        ]
        return tuple(differing) or None

    def _may_be_found(self, kind: Kind, name: str, one: object, other: object) -> bool:
        """Whether two imports of one row may have found two records for what stands in it: two that are one thing, or
        one of which one of the books knew nothing yet. Which event a run is of, and which of what has to be there
        already, follows from what a book knew then."""
        target = kind.field(name).target
        if target is None or kind.field(name).kind != "reference":
            return False
        of = BY_NAME[target]
        if of.needs_more or of.name == "event":
            return True
        ids = [str(row_id) for row_id in (one, other) if row_id is not None]
        is_new = len(ids) == 2 and not all(self._was_known(of, row_id) for row_id in ids)
        return is_new or self._is_one_thing(kind, name, one, other)

    def _is_one_thing(self, kind: Kind, name: str, one: object, other: object) -> bool:
        """Whether a column refers to two records that are one thing: it shows the same then, and a rescue does not know
        which of them was written."""
        target = kind.field(name).target if name in kind.columns else None
        if target is None or one is None or other is None:
            return False
        return self._may_be_one(BY_NAME[target], str(one), str(other))

    def _was_known(self, kind: Kind, row_id: str) -> bool:
        """Whether both books knew a record before they met."""
        here = f"SELECT 1 FROM main.{kind.table} WHERE id = ? AND rowid <= ?"
        there = f"SELECT 1 FROM {OTHER}.{kind.table} WHERE id = ?"
        return (
            self.connection.execute(here, (row_id, self.last_rowids.get(kind.table, 0))).fetchone() is not None
            and self.connection.execute(there, (row_id,)).fetchone() is not None
        )

    def _may_be_one(self, kind: Kind, one: str, other: str) -> bool:
        """Whether two records are one thing: joined, by way of others too, or with a name that both ever had."""
        if kind.label is None:
            return False
        ones, others = self._joined(kind, one), self._joined(kind, other)
        return bool(ones & others or self._names(kind, ones) & self._names(kind, others))

    def _joined(self, kind: Kind, row_id: str) -> set[str]:
        pairs = [
            {str(row[0]), str(row[1])}
            for row in self.connection.execute(
                f"SELECT one, other FROM main.{_JOIN.table} WHERE kind = ?1 UNION "
                "SELECT json_extract(content, '$.one'), json_extract(content, '$.other') FROM main.history "
                "WHERE table_name = ?2 AND json_valid(content) AND json_extract(content, '$.kind') = ?1 ORDER BY 1, 2",
                (kind.name, _JOIN.table),
            )
        ]
        found, size = {row_id}, 0
        while len(found) > size:
            size = len(found)
            for pair in pairs:
                if pair & found:
                    found |= pair
        return found

    def _names(self, kind: Kind, ids: set[str]) -> set[str]:
        """All names that these records ever had, as people mean them."""
        return {name for row_id in ids for name in names_ever(self.connection, kind, row_id)}


def _written(kind: Kind, version: str, here: Content, there: Content) -> Iterator[str]:
    """The columns that a version has once and for all: not what follows from other rows, nor what one of the books did
    not know yet. An import names a version by what stood in the row: who wrote it, when and from which file is of each
    laptop."""
    aside = derived_columns(kind, here) | derived_columns(kind, there)
    if is_content_id(version):
        aside |= set(WORKED_OUT.get(kind.name, ()))
    label = kind.label or "id"
    if label in aside and not may_be_counted(kind, there.get(label)):  # which no book counted (``labels_met``)
        aside -= {label}
    names = kind.columns if is_content_id(version) else (*kind.columns, *_BOOKS)
    for name in names:
        if name not in aside and name in here and name in there:
            yield name


def _content(copy: Copy) -> Content | None:
    return None if copy.text is None else object_in(copy.text) or {}


def _is_said_later(record: KnownRecord, version: str, there: Content | None, columns: Sequence[str]) -> bool:
    """Whether somebody typed after this version, in the columns that people write, what the other book says. What was
    only carried on from a version that another program changed was not typed again."""
    said = [name for name in columns if name in record.kind.columns]
    if there is None or not said:
        return False
    after, size = {version}, 0
    while len(after) > size:
        size = len(after)
        after |= {one.version for one in record.versions.values() if one.parents & after}
    typed = _typed(record.versions[version].content)
    return any(
        content is not None
        and all(content.get(name) == there.get(name) for name in said)
        and all(_typed(content).get(name) != typed.get(name) for name in said)
        for content in (record.versions[one].content for one in after - {version})
    )


def _typed(content: Content | None) -> Content:
    entered = (content or {}).get("entered")
    return dict((object_in(entered) if isinstance(entered, str) else None) or {})
