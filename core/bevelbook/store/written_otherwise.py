"""What was written in references that show something else, asked of whatever else in the file knows it.

Where two records are one, a reference shows the one that stands for both, and ``as_written`` has what was written. If
another program removes or changes a row of it, nothing shows it until the two are parted: then the reference would
stay with the wrong one. The text that was typed for the record, and its version before, know better.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import Field
from bevelbook.declare.in_command import in_command
from bevelbook.kept_json import object_in
from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.people import WHO_WRITES
from bevelbook.store.as_written import REFERRING
from bevelbook.store.ids import is_content_id
from bevelbook.store.record_names import names_of
from bevelbook.store.schema import literal, quoted
from bevelbook.store.told_apart import KINDS_TOLD_APART, shown_and_not_kept

_NAMED: Final = 20
"""The most records that are named one by one."""
_AS_TYPED: Final = "as it was typed"
_AS_NAMED: Final = "as its own name says"
_AS_BEFORE: Final = "as in its version before, and nobody typed another since"


class WrittenOtherwise(NamedTuple):
    """A reference of a record that was written with ``written`` (an id), as ``witness`` says in words; the file says
    ``held``. What shows is one with both."""

    kind: Kind
    row_id: str
    field: Field
    held: str
    written: str
    witness: str


class OneThing:
    """The records that are one with others: which they are, what each was ever called, and since when."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._stands: dict[tuple[str, str], str] = {}
        self._members: dict[tuple[str, str], list[str]] = {}
        for kind, row_id, stands in connection.execute(
            "SELECT kind, id, stands FROM main.one_with ORDER BY kind, id"
        ).fetchall():
            self._stands[kind, row_id] = stands
            self._members.setdefault((kind, stands), [stands]).append(row_id)
        self._names = cache(self._names_of)
        self._since = cache(self._said_since)

    def __bool__(self) -> bool:
        return bool(self._stands)

    def written_with(self, target: str, held: str, text: str, at: str | None) -> str | None:
        """The id of the record that a text of that moment meant, if ``held`` is one with it and was never called so;
        None where nobody can know, as after somebody said anything of these: a name then stands for all of them."""
        stands = self._stands.get((target, held), held)
        members = self._members.get((target, stands), ())
        since = self._since(target, stands) if members else None
        if since is None or at is None or at >= since:
            return None
        name = folded_label(text)
        meant = [row_id for row_id in members if name in self._names(target, row_id)]
        return meant[0] if meant and held not in meant else None

    def is_one_with(self, target: str, one: str, other: str) -> bool:
        """Whether two records are one."""
        return self._stands.get((target, one), one) == self._stands.get((target, other), other)

    def since(self, target: str, row_id: str) -> str | None:
        """When anything was first said of a record that is one with others, or of one of these; None if never."""
        return self._since(target, self._stands.get((target, row_id), row_id))

    def _names_of(self, target: str, row_id: str) -> frozenset[str]:
        return names_ever(self._connection, BY_NAME[target], row_id)

    def _said_since(self, target: str, stands: str) -> str | None:
        members = {stands, *self._members.get((target, stands), ())}
        moments = [
            at
            for one, other, at in self._connection.execute(
                "SELECT one, other, created_at FROM main.joins WHERE kind = ?1 UNION ALL "
                "SELECT json_extract(content, '$.one'), json_extract(content, '$.other'), "
                "json_extract(content, '$.created_at') FROM main.history WHERE table_name = 'joins' "
                "AND iif(json_valid(content), json_extract(content, '$.kind') = ?1, 0) ORDER BY 1, 2, 3",
                (target,),
            )
            if isinstance(at, str) and not members.isdisjoint((one, other))
        ]
        return min(moments, default=None)


def names_ever(connection: sqlite3.Connection, kind: Kind, row_id: str) -> frozenset[str]:
    """What a record is called and was called before, as people mean it (``folded_label``)."""
    label = kind.label or "id"
    found = connection.execute(
        f"SELECT {quoted(label)} FROM main.{kind.table} WHERE id = ?1 UNION "
        f"SELECT json_extract(content, {literal(f'$.{label}')}) FROM main.history WHERE table_name = ?2 "
        "AND row_id = ?1 AND json_valid(content) UNION "
        "SELECT label FROM main.also_called WHERE table_name = ?2 AND row_id = ?1 ORDER BY 1",
        (row_id, kind.table),
    )
    return frozenset(folded_label(row[0]) for row in found if isinstance(row[0], str))


def written_otherwise(connection: sqlite3.Connection) -> Iterator[WrittenOtherwise]:
    """The references of which the file says that something else was written than what was typed, or than what stood
    there before. The connection may be read-only."""
    things = OneThing(connection)
    if not things:
        return
    for kind in REFERRING:
        for field in kind.joined_references:
            yield from _by_what_was_typed(connection, things, kind, field)
            yield from _by_name_of_build(connection, things, kind, field)
            yield from _by_version_before(connection, things, kind, field)


def _rows_sql(kind: Kind, field: Field) -> str:
    """SQL of the records whose reference shows what stands for others: what the file says was written, as ``held``."""
    return (
        "SELECT t.id, t.version, t.parents, t.updated_at, t.updated_by, t.entered, "
        f"coalesce(a.written, t.{quoted(field.name)}) AS held "
        f"FROM main.one_with o CROSS JOIN main.{kind.table} t ON t.{quoted(field.name)} = o.stands "
        f"LEFT JOIN main.as_written a ON a.table_name = {literal(kind.table)} AND a.row_id = t.id "
        f"AND a.column_name = {literal(field.name)} WHERE o.kind = {literal(field.target or '')}"
    )


def _by_what_was_typed(
    connection: sqlite3.Connection, things: OneThing, kind: Kind, field: Field
) -> Iterator[WrittenOtherwise]:
    for row_id, at, entered, by, held in connection.execute(
        f"SELECT DISTINCT id, updated_at, entered, updated_by, held FROM ({_rows_sql(kind, field)}) "
        "WHERE entered IS NOT NULL ORDER BY id"
    ).fetchall():
        text = (object_in(entered) or {}).get(field.name)
        if not isinstance(text, str) or held is None:
            continue
        typed_at, who = _typed(connection, kind, row_id, field.name, text, (at, by))
        meant = who if text == WHO_WRITES and field.target == "person" else text
        if meant is None:
            continue
        written = things.written_with(field.target or "", held, meant, typed_at)
        if written is not None:
            yield WrittenOtherwise(kind, row_id, field, held, written, _AS_TYPED)


def _by_name_of_build(
    connection: sqlite3.Connection, things: OneThing, kind: Kind, field: Field
) -> Iterator[WrittenOtherwise]:
    """A build that nobody changed and that was named after its diff, by counting."""
    if (kind.name, field.name) != ("build", "diff"):
        return
    for row_id, at, held, label in connection.execute(
        "SELECT DISTINCT r.id, r.updated_at, r.held, coalesce(a.written, b.label) "
        f"FROM ({_rows_sql(kind, field)}) r CROSS JOIN main.builds b ON b.id = r.id LEFT JOIN main.as_written a "
        "ON a.table_name = 'builds' AND a.row_id = b.id AND a.column_name = 'label' "
        "WHERE r.parents IS NULL AND b.note_file IS NULL ORDER BY r.id"
    ).fetchall():
        name, _, number = label.rpartition("/")
        written = things.written_with("diff", held, name, at) if number.isdecimal() else None
        if written is not None:
            yield WrittenOtherwise(kind, row_id, field, held, written, _AS_NAMED)


def _typed(
    connection: sqlite3.Connection, kind: Kind, row_id: str, column: str, text: str, last: tuple[str, str | None]
) -> tuple[str, str | None]:
    """When a text was typed that a record still has, and by whom: by the first of its last versions that have it."""
    versions = connection.execute(
        "SELECT json_extract(content, '$.updated_at'), json_extract(content, '$.updated_by'), "
        "json_extract(content, '$.entered') FROM main.history "
        "WHERE table_name = ? AND row_id = ? AND json_valid(content) ORDER BY 1 DESC, id DESC",
        (kind.table, row_id),
    )
    for at, by, entered in versions:
        if (object_in(entered) or {}).get(column) != text or not isinstance(at, str):
            break
        last = min(last, (at, by), key=lambda one: one[0])
    return last


def _by_version_before(
    connection: sqlite3.Connection, things: OneThing, kind: Kind, field: Field
) -> Iterator[WrittenOtherwise]:
    """A reference that was never typed again, and changed all the same while what it had was one with what it has."""
    column = literal(f"$.{field.name}")
    for row_id, version, at, entered, held, before, typed_before in connection.execute(
        f"SELECT DISTINCT r.id, r.version, r.updated_at, r.entered, r.held, json_extract(h.content, {column}), "
        f"json_extract(h.content, '$.entered') FROM ({_rows_sql(kind, field)}) r CROSS JOIN main.history h "
        f"ON h.table_name = {literal(kind.table)} AND h.row_id = r.id AND r.parents = json_array(h.version) "
        "WHERE json_valid(h.content) AND r.held <> json_extract(h.content, "
        f"{column}) ORDER BY r.id"
    ).fetchall():
        target = field.target or ""
        if is_content_id(version) or not things.is_one_with(target, held, before):
            continue
        since = things.since(target, held)
        typed, was_typed = ((object_in(one) or {}).get(field.name) for one in (entered, typed_before))
        if typed == was_typed and since is not None and at > since and not _takes_back(connection, version):
            yield WrittenOtherwise(kind, row_id, field, held, before, _AS_BEFORE)


def _takes_back(connection: sqlite3.Connection, version: str) -> bool:
    found = connection.execute("SELECT 1 FROM main.entries WHERE id = ? AND took_back IS NOT NULL", (version,))
    return found.fetchone() is not None


def written_otherwise_in_words(connection: sqlite3.Connection, found: Iterable[WrittenOtherwise]) -> Iterator[str]:
    """What to say of these: the records, the column, and the way back; each reference once, by kind and column."""
    first: dict[tuple[str, str, str], WrittenOtherwise] = {}
    for one in found:
        first.setdefault((one.kind.name, one.field.name, one.row_id), one)
    alike: dict[tuple[str, str, str, str, str], list[str]] = {}
    for (kind_name, column, row_id), one in sorted(first.items(), key=lambda item: item[0]):
        alike.setdefault((kind_name, column, one.witness, one.held, one.written), []).append(row_id)
    for (kind_name, column, witness, held, written), row_ids in alike.items():
        kind = BY_NAME[kind_name]
        yield _in_words(connection, kind, kind.field(column), row_ids, held, written, witness)


def _in_words(
    connection: sqlite3.Connection,
    kind: Kind,
    field: Field,
    row_ids: Sequence[str],
    held: str,
    written: str,
    witness: str,
) -> str:
    names = sorted(names_of(connection, kind, row_ids).values())
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    labels = names_of(connection, BY_NAME[field.target or ""], [held, written])
    now, then = (labels.get(one, one) for one in (held, written))
    is_one = len(names) == 1
    command = f"bevelbook record {kind.name.replace('_', '-')} {in_command(names[0]) if is_one else 'NAME'} "
    command += in_command(f"{field.stem}={then}")
    return (
        f"{counted(len(names), 'record')} of {kind.table.replace('_', ' ')} ({', '.join(names[:_NAMED])}{more}): "
        f"{'its' if is_one else 'their'} {field.name} was written with {then}, {witness}, and the table as_written "
        f"does not say so any more: another program changed that. Once {then} and {now} are two again, "
        f"{'it' if is_one else 'they'} would be of {now}. Take the database from a backup; where there is none, say "
        f"that they are two, and then '{command}'"
    )


def names_not_kept_in_words(connection: sqlite3.Connection) -> Iterator[str]:
    """Records that show who wrote them behind their name, and of which nothing says what was written, in words."""
    for kind in KINDS_TOLD_APART:
        for row_id, shown, written in shown_and_not_kept(connection, kind):
            yield (
                f"the {kind.name} {shown} ({row_id}): its {kind.label} was written as {written}, since others have "
                "that name too, and the table as_written does not say so any more: another program changed that. Take "
                f"the database from a backup, or write its name again with 'bevelbook record {kind.name} "
                f"{in_command(row_id)} {in_command(f'{kind.label}={written}')}'"
            )
