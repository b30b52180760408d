"""Records of which several versions stand side by side: reading them, and the table ``clashes`` that lists them.

The table follows from the records and their history. It is brought up to date at the end of every transaction that
wrote a record in it, and where records of another database come in.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations
from types import MappingProxyType
from typing import Any, Final, Literal, NamedTuple

from bevelbook.kept_json import object_in, object_text
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.store.heads import Content, Version, Why, comparable, last_living, same_content, standing
from bevelbook.store.ids import content_id
from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.kept_states import kept_rows, made_at_of, shown_rows
from bevelbook.store.known_versions import KnownRecord, known_records, shown_versions
from bevelbook.store.schema import ANOTHER_PROGRAM, columns_of
from bevelbook.store.versions import entry_of, tables_of_removals

_CLASH: Final = BY_NAME["clash"]
_NO_DAY: Final = "1970-01-01"
_BLOCK: Final = 500
_NONE: Final[Mapping[Any, Any]] = MappingProxyType({})
LOOSE: Final = "content IS NOT NULL AND replaced_at IS NULL"
"""SQL for a row of the history that nothing followed: it stands beside what the table shows."""


class ClashVersion(NamedTuple):
    """One of the versions that stand side by side: its content (None where it is a removal), and who wrote it when, as
    far as that is known."""

    version: str
    content: Content | None
    made_by: str | None
    made_at: str | None
    entry: str | None

    @property
    def is_removal(self) -> bool:
        return self.content is None


class WithOthers(NamedTuple):
    """What settles a clash by the version of a number, with what the others changed beside it."""

    number: int


Which = int | Literal["both"] | WithOthers


class ClashFound(NamedTuple):
    """A record whose versions clash. ``heads`` begin with the one that is shown, then come the living ones, the latest
    first, then removals: their places, from 1, are the numbers by which a person names them. ``differing`` are the
    columns in which the living ones differ; ``before`` is the last version that all of them followed, if there is one.

    ``newest`` has, by column, the place in ``heads`` of the version whose value stands where no two changed it to
    different values since they parted; the other columns of ``differing`` are disputed. ``written_by`` has, by version
    and column of ``differing``, the version that first said that value.
    """

    kind: Kind
    row_id: str
    why: Why
    heads: tuple[ClashVersion, ...]
    differing: tuple[str, ...]
    before: Content | None = None
    newest: Mapping[str, int] = _NONE
    written_by: Mapping[tuple[str, str], str] = _NONE

    @property
    def disputed(self) -> tuple[str, ...]:
        """The columns that two versions changed to different values."""
        return tuple(name for name in self.differing if name not in self.newest)

    @property
    def shown(self) -> ClashVersion:
        return self.heads[0]

    @property
    def numbered(self) -> tuple[tuple[int, ClashVersion], ...]:
        return tuple(enumerate(self.heads, start=1))


def clashes(connection: sqlite3.Connection) -> list[ClashFound]:
    """All clashes, by kind in the order of their declaration, then by id."""
    rows = connection.execute("SELECT table_name, row_id FROM main.clashes ORDER BY table_name, row_id").fetchall()
    return clashes_of(connection, [(row[0], row[1]) for row in rows])


def clash_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> ClashFound | None:
    """The clash of one record, if it has one."""
    known = connection.execute(
        "SELECT 1 FROM main.clashes WHERE table_name = ? AND row_id = ?", (kind.table, row_id)
    ).fetchone()
    return next(iter(clashes_of(connection, [(kind.table, row_id)])), None) if known else None


def clashes_of(connection: sqlite3.Connection, records: Iterable[tuple[str, str]]) -> list[ClashFound]:
    """The clashes of these records, by table and id; those that have none are left out."""
    by_table: dict[str, list[str]] = {}
    for table, row_id in records:
        by_table.setdefault(table, []).append(row_id)
    found: list[ClashFound] = []
    for kind in KINDS:
        ids = sorted(set(by_table.get(kind.table, ())))
        for start in range(0, len(ids), _BLOCK):
            found += _clashes_of_kind(connection, kind, ids[start : start + _BLOCK])
    return found


def both_hold(found: ClashFound) -> Content | None:
    """The content with the changes of every version that stands side by side; None where two changed the same to
    different values, where one removed the record, or where nothing is known from before."""
    if found.why != "changed" or found.disputed or any(one.is_removal for one in found.heads):
        return None
    return _with_newest(found, found.shown)


def with_others(found: ClashFound, number: int) -> Content | None:
    """The content of a version with what the others changed where nobody disputes it; None where that is the version
    itself, or a removal."""
    head = found.heads[number - 1]
    content = _with_newest(found, head)
    if content is None or head.content is None or same_content(found.kind, content, head.content):
        return None
    return content


def _with_newest(found: ClashFound, head: ClashVersion) -> Content | None:
    """A version with the undisputed values of the others, and with how they were typed."""
    if head.content is None:
        return None
    content, typed = dict(head.content), _typed(head)
    for name, place in found.newest.items():
        other = found.heads[place]
        value = comparable(found.kind, other.content or {}).get(name)
        if value == comparable(found.kind, head.content).get(name):
            continue
        content[name] = value
        typed.pop(name, None)
        typed |= {column: text for column, text in _typed(other).items() if column == name}
    return content | {"entered": object_text(typed) if typed else None}


def _typed(head: ClashVersion) -> Content:
    return dict(object_in(str((head.content or {}).get("entered") or "{}")) or {})


def _clashes_of_kind(connection: sqlite3.Connection, kind: Kind, ids: Sequence[str]) -> Iterator[ClashFound]:
    if not kind.own:
        yield from _needed_kept(connection, kind, ids)
        return
    shown = shown_versions(connection, kind, ids)
    for row_id, record in sorted(known_records(connection, kind, ids).items()):
        found = _clash(record, row_id, shown.get(row_id))
        if found is not None:
            yield _with_authors(connection, found)


def _clash(record: KnownRecord, row_id: str, shown: str | None) -> ClashFound | None:
    versions = record.versions
    stands = standing(record.kind, versions.values())
    if stands.why is not None and stands.shown is not None:
        first = stands.shown
        living = [one for one in reversed(stands.heads) if one.content is not None and one is not first]
        removed = [one for one in stands.heads if one.content is None]
        return ClashFound(
            record.kind,
            row_id,
            stands.why,
            tuple(ClashVersion(one.version, one.content, None, None, None) for one in (first, *living, *removed)),
            stands.differing,
            _common_before(versions, stands.heads),
            _newest(record.kind, versions, (first, *living), stands.differing),
            {
                (one.version, name): _first_with(record.kind, versions, one, name)
                for one in (first, *living)
                for name in stands.differing
            },
        )
    if stands.shown is None and shown is not None:
        last = versions.get(shown) or last_living(versions.values())
        if last is not None:
            heads = tuple(ClashVersion(one.version, one.content, None, None, None) for one in (last, *stands.heads))
            return ClashFound(record.kind, row_id, "needed", heads, (), last.content)
    return None


def _common_before(versions: Mapping[str, Version], heads: Sequence[Version]) -> Content | None:
    """The content of the last version that all heads followed; None where there is no such version."""
    common: set[str] | None = None
    for head in heads:
        before = _ancestors(versions, head.version)
        common = before if common is None else common & before
    living = [versions[one] for one in common or () if versions[one].content is not None]
    depth = {one.version: len(_ancestors(versions, one.version)) for one in living}
    last = max(living, key=lambda one: (depth[one.version], one.key), default=None)
    return None if last is None else last.content


def _newest(
    kind: Kind, versions: Mapping[str, Version], heads: Sequence[Version], columns: Sequence[str]
) -> dict[str, int]:
    """By column the place of the head whose value stands, where each other is what that one, or one between, changed:
    two heads are compared with the last version that both followed."""
    said = [comparable(kind, one.content or {}) for one in heads]
    overtaken: dict[str, set[int]] = {name: set() for name in columns}
    for (i, one), (j, other) in combinations(enumerate(heads), 2):
        before = _common_before(versions, (one, other))
        if before is None:
            continue
        held = comparable(kind, before)
        for name in columns:
            values = said[i].get(name), said[j].get(name)
            if values[0] != values[1] and held.get(name) in values:
                overtaken[name].add((i, j)[values.index(held.get(name))])
    found: dict[str, int] = {}
    for name in columns:
        left = [place for place in range(len(heads)) if place not in overtaken[name]]
        if left and all(said[place].get(name) == said[left[0]].get(name) for place in left):
            found[name] = left[0]
    return found


def _first_with(kind: Kind, versions: Mapping[str, Version], head: Version, name: str) -> str:
    """The version that first said what a head says in a column: back along what it followed, as long as that says the
    same."""
    value = comparable(kind, head.content or {}).get(name)
    found, seen = head, {head.version}
    while True:
        before = [
            versions[one]
            for one in found.parents
            if one in versions and one not in seen and comparable(kind, versions[one].content or {}).get(name) == value
        ]
        if not before:
            return found.version
        found = min(before, key=lambda one: one.key)
        seen.add(found.version)


def _ancestors(versions: Mapping[str, Version], version: str) -> set[str]:
    found: set[str] = set()
    waiting = [version]
    while waiting:
        for parent in versions[waiting.pop()].parents:
            if parent in versions and parent not in found:
                found.add(parent)
                waiting.append(parent)
    return found - {version}


def _needed_kept(connection: sqlite3.Connection, kind: Kind, ids: Sequence[str]) -> Iterator[ClashFound]:
    """Kept files that were removed and are shown because something needs them."""
    shown = shown_rows(connection, kind, ids)
    for row_id, row in sorted(kept_rows(connection, kind, ids).items()):
        order = row.in_order(made_at_of(connection, row.changes))
        if row_id not in shown or not order or row.changes[order[-1]].text is not None:
            continue
        content = object_in(shown[row_id])
        heads = (
            ClashVersion(NOT_VERSIONED, content, None, None, None),
            ClashVersion(order[-1], None, None, None, None),
        )
        yield _with_authors(connection, ClashFound(kind, row_id, "needed", heads, (), content))


def _with_authors(connection: sqlite3.Connection, found: ClashFound) -> ClashFound:
    return found._replace(heads=tuple(with_author(connection, head) for head in found.heads))


def with_author(connection: sqlite3.Connection, head: ClashVersion) -> ClashVersion:
    """A version with who wrote it and when: by its entry, else by what its content says."""
    entry = entry_of(head.version)
    row = connection.execute("SELECT made_by, made_at FROM main.entries WHERE id = ?", (entry,)).fetchone()
    if row is not None:
        return head._replace(made_by=row[0], made_at=row[1], entry=entry)
    content = head.content or {}
    by = None if head.version.startswith(ANOTHER_PROGRAM) else content.get("updated_by")
    return head._replace(made_by=by, made_at=content.get("updated_at"))


def bring_up_to_date(connection: sqlite3.Connection, records: Iterable[tuple[str, str]]) -> None:
    """Have the table ``clashes`` say of these records what follows from them, inside the caller's transaction."""
    wanted = sorted(set(records))
    found = {(one.kind.table, one.row_id): one for one in clashes_of(connection, wanted)}
    for table, row_id in wanted:
        one = found.get((table, row_id))
        connection.execute("DELETE FROM main.clashes WHERE table_name = ? AND row_id = ?", (table, row_id))
        if one is not None:
            connection.execute(
                f"INSERT INTO main.{_CLASH.table} ({', '.join(columns_of(_CLASH))}) VALUES (?, ?, ?, ?, ?, ?, ?)",
                row_of(one),
            )


def row_of(found: ClashFound) -> tuple[str, ...]:
    """A clash as its row in the table ``clashes``, in the order of its columns."""
    return (
        content_id(_NO_DAY, f"clash\0{found.kind.table}\0{found.row_id}"),
        found.kind.table,
        found.row_id,
        found.why,
        found.shown.version,
        json.dumps([head.version for head in found.heads[1:]]),
        json.dumps(list(found.differing)),
    )


def are_any(connection: sqlite3.Connection) -> bool:
    """Whether any record has versions side by side, alike or not."""
    return bool(
        connection.execute(
            f"SELECT EXISTS (SELECT 1 FROM main.clashes) OR EXISTS (SELECT 1 FROM main.history WHERE {LOOSE})"
        ).fetchone()[0]
    )


def may_clash(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    """The records that may clash: with a version that nothing followed beside the one that is shown, shown although
    they were removed, or in the table already."""
    found = {(row[0], row[1]) for row in connection.execute("SELECT table_name, row_id FROM main.clashes")}
    found |= {
        (row[0], row[1])
        for row in connection.execute(f"SELECT DISTINCT table_name, row_id FROM main.history WHERE {LOOSE}")
        if row[0] in BY_TABLE and BY_TABLE[row[0]].own
    }
    tables = tables_of_removals(connection)
    for kind in KINDS:
        if (kind.own or kind.name == "note_file") and kind.table in tables:
            found |= {
                (kind.table, row[0])
                for row in connection.execute(
                    "SELECT DISTINCT h.row_id FROM main.history h "
                    f"CROSS JOIN main.{kind.table} t ON t.id = h.row_id WHERE h.table_name = ? AND h.content IS NULL",
                    (kind.table,),
                )
            }
    return sorted(found)
