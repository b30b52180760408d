"""Taking an entry back: what that would write, what refuses it, and writing it.

Taking back is itself an entry. A record that the entry added is removed, one that it changed gets its earlier content,
one that it removed comes back: each a new version, the old one is not revived. Nothing else is taken back with it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterator, Mapping
from typing import Final, Literal, NamedTuple

from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.store.diffs_of_rows import rows_kept_of
from bevelbook.store.entry_contents import (
    OF_A_FILE,
    Content,
    EntryBook,
    PastEntry,
    State,
    Touch,
    content_columns,
    heads_in,
)
from bevelbook.store.heads import same_content
from bevelbook.store.kept_past import keep_past, keep_past_of, remove_kept
from bevelbook.store.schema import quoted, selected_columns
from bevelbook.store.users import Use, living, references, results_about, users_of
from bevelbook.store.versions import LABELLED, PLACED, after, note_version, parents_of_return
from bevelbook.store.writing import placing

NAMES: Final = ("person", "diff", "fluid", "venue")
"""Kinds that an import adds because a row names them; they stay while anything else uses them."""
FROM_NOTES: Final = ("build", "weighing", "run", "run_diff")
"""Kinds that the rows of a sheet make."""
_UNVERSIONED: Final = (*OF_A_FILE, "calculation")
_ORDER: Final = {kind.name: place for place, kind in enumerate(KINDS)}

Why = Literal["later", "beside", "used", "result", "gone", "erased", "unknown_column", "equal_name"]
Key = tuple[str, str]
"""Table and id of a record."""


class Refusal(NamedTuple):
    """Why an entry cannot be taken back: because of one of its records, and of what came after.

    ``later``: another entry wrote the record since. ``beside``: another one wrote it too, without knowing of this one,
    so that what was before is not what would hold now. ``used``: ``by`` uses it. ``result``: a person kept a result
    about it. ``gone``: what it would point to (``by``, in ``column``) was removed. ``erased``: the earlier content is
    not there any more. ``unknown_column``: the earlier content has a column that this version does not know.
    ``equal_name``: ``by`` has got the name since that would come back.
    ``entry`` is the entry that stands in the way and would have to be taken back before, None where there is none.
    ``other`` is the entry that wrote what stands beside.
    """

    why: Why
    kind: Kind
    row_id: str
    content: Content | None
    entry: str | None = None
    by: tuple[Kind, str] | None = None
    column: str | None = None
    other: str | None = None


class Move(NamedTuple):
    """A record that stays and belongs to another kept file from then on, or to none."""

    kind: Kind
    row_id: str
    note_file: str | None
    note_line: int | None


class SetAside(NamedTuple):
    """The build, by id and label, that a record was on before it was put elsewhere because that build goes."""

    build: str
    label: str


class Plan(NamedTuple):
    """What taking back an entry writes. ``results`` are kept results, by id, that follow."""

    entry: PastEntry
    removed: tuple[Touch, ...]
    restored: tuple[Touch, ...]
    returning: tuple[Touch, ...]
    moved: tuple[Move, ...]
    results: tuple[str, ...]
    refusals: tuple[Refusal, ...]

    @property
    def is_empty(self) -> bool:
        return not (self.removed or self.restored or self.returning or self.moved or self.results)

    @property
    def records(self) -> tuple[Touch, ...]:
        """What is removed, gets its earlier content or comes back, of what people and imports write."""
        return tuple(one for one in (*self.removed, *self.restored, *self.returning) if one.kind.own)


def plan_of(
    entries: EntryBook,
    entry: PastEntry,
    *,
    held: Mapping[Key, tuple[str, int]] | None = None,
    also: Collection[str] = (),
) -> Plan:
    """What taking back an entry would write, and what refuses it. Nothing is written.

    ``held`` are the records from notes that other kept files hold, with their file and line there. ``also`` are later
    entries that are to be taken back before it.
    """
    connection = entries.connection
    contents = _without_placing(entries.contents_of(entry))
    contents += _come_to_files(entries, contents, also)
    refusals: list[Refusal] = []
    removed = [one for one in contents if one.before is None and one.after.content is not None]
    removed += [one for one in contents if one.what == "restored"]
    removed, moved = _apart(connection, removed, held or {})
    restored = [one for one in contents if one.what == "changed"]
    returning = [one for one in contents if one.what == "removed" and one.before is not None and one.before.content]
    for touch in (*removed, *restored, *returning):
        refusals += _later(entries, touch, also)
        refusals += _beside(entries, touch, entry.id)
        if touch.before is not None and touch.before.is_erased:
            refusals.append(Refusal("erased", touch.kind, touch.row_id, touch.after.content))
    refusals += [
        Refusal("erased", one.kind, one.row_id, None)
        for one in contents
        if one.what == "removed" and one.before is not None and one.before.is_erased
    ]
    going: dict[str, set[str]] = {}
    for touch in removed:
        going.setdefault(touch.kind.table, set()).add(touch.row_id)
    by_key = {(one.kind.table, one.row_id): one for one in removed}
    coming = {_content(one).get("diff") for one in returning if one.kind.name == "build"}
    as_before = {(one.kind.table, one.row_id): _content(one) for one in restored}
    for use in users_of(connection, going):
        if is_placed(connection, use) and _has_another_build(connection, use, going["builds"], coming):
            continue
        was = as_before.get((use.kind.table, use.row_id))
        if was is not None and was.get(use.column) != use.used_id:
            continue
        author = _author_of_use(entries, use) or _entry_of_file(connection, use)
        if author not in also:
            content = by_key[use.used.table, use.used_id].after.content
            refusals.append(Refusal("used", use.used, use.used_id, content, author, (use.kind, use.row_id), use.column))
    results: list[str] = []
    for row_id, table, subject, author in results_about(connection, going):
        if author is not None and author != entry.id and author not in also and is_by_hand(entries, author):
            kind, touch = BY_TABLE[table], by_key[table, subject]
            refusals.append(
                Refusal("result", kind, subject, touch.after.content, author, (BY_NAME["calculation"], row_id))
            )
        elif row_id not in going.get("calculations", ()):
            results.append(row_id)
    refusals += _gone(connection, (*restored, *returning), going, also)
    return Plan(entry, tuple(removed), tuple(restored), tuple(returning), tuple(moved), tuple(results), tuple(refusals))


def _come_to_files(entries: EntryBook, contents: list[Touch], also: Collection[str]) -> list[Touch]:
    """What belongs to the kept files that an entry added, but was added by another one: the file that it came with
    first was taken back. It goes with the file that has it now."""
    files = [one.row_id for one in contents if one.kind.name == "note_file" and one.what in ("added", "restored")]
    if not files:
        return []
    known = {(one.kind.table, one.row_id) for one in contents}
    found: list[Touch] = []
    for kind in KINDS:
        if not kind.own:
            continue
        for (row_id,) in entries.connection.execute(
            f"SELECT id FROM {kind.table} WHERE note_file IN (SELECT value FROM json_each(?)) ORDER BY id",
            (json.dumps(files),),
        ).fetchall():
            if (kind.table, row_id) in known:
                continue
            states = entries.states(kind, row_id)
            first = len(states) - 1
            while first and (states[first - 1].content or {}).get("note_file") in files:
                first -= 1
            if states[first].author not in also:
                found.append(Touch(kind, row_id, None, states[first], tuple(states[first + 1 :])))
    return found


def _without_placing(contents: list[Touch]) -> list[Touch]:
    """Without records of note rows that came or went since only because rows were placed again.

    The caller places them again.
    """
    files = {one.row_id for one in contents if one.kind.name == "note_file"}
    return [one for one in contents if not (one.kind.name in FROM_NOTES and one.later and _is_by_placing(one, files))]


def _is_by_placing(touch: Touch, files: set[str]) -> bool:
    content = _content(touch) if touch.what == "removed" else touch.after.content or {}
    file = content.get("note_file")
    if touch.what == "removed":
        return bool(files) and file is not None and file not in files
    return touch.what == "added" and file in files and touch.later[-1].content is None


def _apart(
    connection: sqlite3.Connection, added: list[Touch], held: Mapping[Key, tuple[str, int]]
) -> tuple[list[Touch], list[Move]]:
    """What an entry added: what is to be removed, and what stays because another file of notes holds it, or because it
    is a name from notes that something else uses."""
    moved: list[Move] = []
    removed: list[Touch] = []
    for touch in added:
        other = held.get((touch.kind.table, touch.row_id))
        if other is not None:
            moved.append(Move(touch.kind, touch.row_id, *other))
        else:
            removed.append(touch)
    going: dict[str, set[str]] = {}
    for touch in removed:
        going.setdefault(touch.kind.table, set()).add(touch.row_id)
    stays: dict[Key, Use] = {}
    for use in users_of(connection, going):
        if use.used.name in NAMES:
            stays.setdefault((use.used.table, use.used_id), use)
    files = {one.row_id for one in removed if one.kind.name == "note_file"}
    lines = {(one.kind.table, one.row_id): (one.note_file, one.note_line) for one in moved}
    for touch in list(removed):
        name_use = stays.get((touch.kind.table, touch.row_id))
        if name_use is None or not (touch.after.content or {}).get("note_file"):
            continue
        removed.remove(touch)
        place = lines.get((name_use.kind.table, name_use.row_id)) or _place_of(connection, name_use)
        moved.append(Move(touch.kind, touch.row_id, *(place if place[0] not in files else (None, None))))
    return removed, moved


def _place_of(connection: sqlite3.Connection, use: Use) -> tuple[str | None, int | None]:
    row = connection.execute(
        f"SELECT note_file, note_line FROM {use.kind.table} WHERE id = ?", (use.row_id,)
    ).fetchone()
    return row[0], row[1]


def _later(entries: EntryBook, touch: Touch, also: Collection[str]) -> Iterator[Refusal]:
    """The first entry that wrote a record after this one, unless all that did were taken back again."""
    if touch.kind.name in _UNVERSIONED:
        return
    in_the_way = [state for state in touch.later if state.author not in also]
    if not in_the_way:
        return
    is_as_it_was = _comparable(touch, touch.later[-1]) == _comparable(touch, touch.after)
    if is_as_it_was and all(_is_settled(entries, state.author) for state in in_the_way):
        return
    first = next((one for one in in_the_way if not _is_settled(entries, one.author)), in_the_way[0])
    yield Refusal("later", touch.kind, touch.row_id, touch.after.content, first.author)


def _beside(entries: EntryBook, touch: Touch, entry: str) -> Iterator[Refusal]:
    """A version that stands beside what this entry wrote, if there is one: of another entry, or unlike it."""
    heads = heads_in(entries.states(touch.kind, touch.row_id)) if touch.kind.own else []
    if len(heads) > 1:
        other = next((one.author for one in heads if one.author != entry), None)
        yield Refusal("beside", touch.kind, touch.row_id, touch.after.content or _content(touch), other=other)


def _is_settled(entries: EntryBook, author: str | None) -> bool:
    """Whether an entry was taken back, or took another back."""
    entry = entries.by_id.get(author or "")
    return entry is not None and (entry.taken_back_by is not None or entry.took_back is not None)


def _comparable(touch: Touch, state: State) -> Content | None:
    """A version's content without what follows from other rows, and without its kept file."""
    if state.content is None:
        return None
    aside = {"note_file", "note_line"}
    if touch.after.content and touch.after.content.get("note_file"):
        aside |= PLACED.get(touch.kind.name, frozenset())
        aside |= {touch.kind.label or ""} if touch.kind.name in LABELLED else set()
    return {name: value for name, value in state.content.items() if name not in aside and value is not None}


def is_placed(connection: sqlite3.Connection, use: Use) -> bool:
    """Whether a record uses another only because notes were placed so: it is placed again when that one goes."""
    if use.column not in PLACED.get(use.kind.name, ()):
        return False
    row = connection.execute(f"SELECT note_file, entered FROM {use.kind.table} WHERE id = ?", (use.row_id,)).fetchone()
    return row[0] is not None and f'"{use.column}"' not in (row[1] or "")


def _has_another_build(connection: sqlite3.Connection, use: Use, going: set[str], coming: set[object]) -> bool:
    """Whether the diff of a build that goes has another one; ``coming`` are the diffs of which one comes back."""
    (diff,) = connection.execute("SELECT diff FROM builds WHERE id = ?", (use.used_id,)).fetchone()
    others = connection.execute(
        "SELECT 1 FROM builds WHERE diff = ? AND id NOT IN (SELECT value FROM json_each(?)) LIMIT 1",
        (diff, json.dumps(sorted(going))),
    )
    return diff in coming or others.fetchone() is not None


def _entry_of_file(connection: sqlite3.Connection, use: Use) -> str | None:
    """The entry of the kept file that has a record."""
    row = connection.execute(
        f"SELECT f.entry FROM {use.kind.table} x JOIN note_files f ON f.id = x.note_file WHERE x.id = ?", (use.row_id,)
    ).fetchone()
    return row[0] if row else None


def _author_of_use(entries: EntryBook, use: Use) -> str | None:
    """The entry that made a record use another."""
    author: str | None = None
    for state in reversed(entries.states(use.kind, use.row_id)):
        if state.content is None or state.content.get(use.column) != use.used_id:
            break
        author = state.author
    return author


def is_by_hand(entries: EntryBook, entry_id: str) -> bool:
    """Whether a person asked for the results that an entry kept: then it wrote nothing else."""
    entry = entries.by_id.get(entry_id)
    return entry is not None and not any(one.kind.name != "calculation" for one in entries.contents_of(entry))


def _gone(
    connection: sqlite3.Connection, touches: tuple[Touch, ...], going: Mapping[str, set[str]], also: Collection[str]
) -> Iterator[Refusal]:
    """What would come back but points to something that is not there, or has a column that is not known."""
    coming: dict[str, set[str]] = {}
    wanted: dict[str, set[str]] = {}
    for touch in touches:
        coming.setdefault(touch.kind.table, set()).add(touch.row_id)
        for column, target in references(touch.kind):
            value = _content(touch).get(column)
            if value is not None:
                wanted.setdefault(target.table, set()).add(value)
    there = {table: living(connection, BY_TABLE[table], ids) - going.get(table, set()) for table, ids in wanted.items()}
    for touch in touches:
        content = _content(touch)
        unknown = next((name for name in content if name not in content_columns(touch.kind)), None)
        if unknown is not None:
            yield Refusal("unknown_column", touch.kind, touch.row_id, content, column=unknown)
        for column, target in references(touch.kind):
            value = content.get(column)
            if value is None or value in there[target.table] or value in coming.get(target.table, ()):
                continue
            if touch.what == "changed" and _is_of_placing(touch, column):
                continue
            remover = _removed_by(connection, target, value)
            if remover is None or remover not in also:
                yield Refusal("gone", touch.kind, touch.row_id, content, remover, (target, value), column)


def _removed_by(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str | None:
    """The entry that removed a record; None where the history does not say."""
    row = connection.execute(
        "SELECT coalesce(h.replaced_in, h.version) FROM history h JOIN entries e "
        "ON e.id = coalesce(h.replaced_in, h.version) WHERE h.table_name = ? AND h.row_id = ? "
        "ORDER BY h.id DESC LIMIT 1",
        (kind.table, row_id),
    ).fetchone()
    return row[0] if row else None


def _content(touch: Touch) -> Content:
    return (touch.before.content if touch.before else None) or {}


def _is_of_placing(touch: Touch, column: str) -> bool:
    return column in PLACED.get(touch.kind.name, ()) and bool(_content(touch).get("note_file"))


def carry_out(connection: sqlite3.Connection, plan: Plan, entry_id: str) -> dict[str, SetAside]:
    """Write a plan without refusals, in the name of an entry that takes it back, inside the caller's transaction.

    Records from notes are placed again by the caller, which has to put right, before the transaction ends, what still
    points to a removed build. Returns the records, by id, that are on another build until then. Raises
    sqlite3.IntegrityError where an earlier content does not fit the checks of today.
    """
    connection.execute("PRAGMA defer_foreign_keys = ON")
    for touch in sorted(plan.returning, key=lambda one: _ORDER[one.kind.name]):
        _bring_back(connection, touch, entry_id)
    going: dict[str, set[str]] = {}
    for touch in plan.removed:
        going.setdefault(touch.kind.table, set()).add(touch.row_id)
    aside = point_elsewhere(connection, going)
    closed_later = _reopen(connection, [one.row_id for one in plan.removed if one.kind.name == "note_file"])
    for touch in sorted(plan.removed, key=lambda one: -_ORDER[one.kind.name]):
        if touch.kind.own:
            connection.execute(f"DELETE FROM {touch.kind.table} WHERE id = ?", (touch.row_id,))
        else:
            remove_kept(connection, touch.kind, "r.id = ?", (touch.row_id,))
    for row_id in plan.results:
        remove_kept(connection, BY_NAME["calculation"], "r.id = ?", (row_id,))
    for touch in plan.restored:
        if touch.kind.name == "build":
            aside |= rows_stay_with_diff(connection, touch.row_id, _content(touch).get("diff"))
        _restore(connection, touch, entry_id)
    connection.executemany("UPDATE note_rejects SET closed_by = ?, closed_line = ? WHERE id = ?", closed_later)
    for move in plan.moved:
        _move(connection, move)
    return aside


def point_elsewhere(
    connection: sqlite3.Connection,
    going: Mapping[str, set[str]],
    *,
    but_own_rows: bool = False,
    but: Collection[str] = (),
) -> dict[str, SetAside]:
    """Have records that were placed on a build that goes point to another one of its diff, until they are placed.

    Returns them, by id; those without another build to go to are left alone, those of ``but`` (by id), and with
    ``but_own_rows`` those of the row that made the build.
    """
    builds = {"builds": going.get("builds", set())}
    aside: dict[str, SetAside] = {}
    for use in users_of(connection, {**going, **builds}):
        if use.used.name != "build" or not is_placed(connection, use):
            continue
        if use.row_id in but or (but_own_rows and use.row_id[:-1] == use.used_id[:-1]):
            continue
        other = connection.execute(
            "SELECT o.id, b.label FROM builds b JOIN builds o ON o.diff = b.diff WHERE b.id = ? "
            "AND o.id NOT IN (SELECT value FROM json_each(?)) ORDER BY o.built_on, o.id LIMIT 1",
            (use.used_id, json.dumps(sorted(builds["builds"]))),
        ).fetchone()
        if other is not None:
            with placing(connection):
                connection.execute(f"UPDATE {use.kind.table} SET build = ? WHERE id = ?", (other[0], use.row_id))
            aside[use.row_id] = SetAside(use.used_id, other[1])
    return aside


def rows_stay_with_diff(connection: sqlite3.Connection, build: str, diff: object) -> dict[str, SetAside]:
    """Before a build gets this diff (by id): have the note rows on it that other rows made stay with the diff that it
    had, but for those that are of the other one. Returns those records as :func:`point_elsewhere` does."""
    (before,) = connection.execute("SELECT diff FROM builds WHERE id = ?", (build,)).fetchone()
    if diff in (None, before):
        return {}
    return point_elsewhere(connection, {"builds": {build}}, but_own_rows=True, but=rows_kept_of(connection, diff))


def _reopen(connection: sqlite3.Connection, files: list[str]) -> list[tuple[str, int, str]]:
    """Open the rejected rows again that these files brought in corrected. One that was rejected in such a file too, and
    came in corrected later, stays closed by what brought it in then: returns these, as file and line and id."""
    kind = BY_NAME["note_reject"]
    opened: set[str] = set()
    for file in files:
        keep_past(connection, kind, "r.closed_by = ?", (file,))
        opened |= {
            row_id
            for (row_id,) in connection.execute(
                "UPDATE note_rejects AS one SET (closed_by, closed_line) = (SELECT r.closed_by, r.closed_line "
                "FROM note_rejects r WHERE r.note_file = one.closed_by AND r.line = one.closed_line "
                "AND r.status = 'rejected' ORDER BY r.id LIMIT 1) WHERE closed_by = ? RETURNING id",
                (file,),
            )
        }
    return connection.execute(
        "SELECT closed_by, closed_line, id FROM note_rejects WHERE closed_by IS NOT NULL "
        "AND id IN (SELECT value FROM json_each(?)) ORDER BY id",
        (json.dumps(sorted(opened)),),
    ).fetchall()


def _bring_back(connection: sqlite3.Connection, touch: Touch, entry_id: str) -> None:
    row: dict[str, object] = {"id": touch.row_id, **_content(touch)}
    if touch.kind.own:
        row |= {"version": entry_id, "parents": parents_of_return(connection, touch.kind, touch.row_id, entry_id)}
    else:
        keep_past_of(connection, touch.kind, touch.row_id)
    connection.execute(
        f"INSERT INTO {touch.kind.table} ({', '.join(map(quoted, row))}) VALUES ({', '.join('?' * len(row))})",
        tuple(row.values()),
    )
    _put_beside(connection, touch, entry_id, str(row.get("parents") or "") or None)


def _put_beside(connection: sqlite3.Connection, touch: Touch, entry_id: str, parents: str | None) -> None:
    """Where an entry that is taken back had settled a clash: have the other versions stand beside again, each under the
    entry that takes it back, with a number behind it."""
    before = _content(touch)
    unlike = [
        one
        for one in touch.beside
        if touch.kind.own and (one.content is None or not same_content(touch.kind, one.content, before))
    ]
    for number, one in enumerate(unlike, start=2):
        connection.execute(
            "INSERT INTO history (table_name, row_id, version, parents, content, replaced_in, replaced_at) "
            "SELECT table_name, row_id, ?, ?, content, NULL, NULL FROM history "
            "WHERE table_name = ? AND row_id = ? AND version = ? ORDER BY id LIMIT 1",
            (f"{entry_id} {number}", parents, touch.kind.table, touch.row_id, one.version),
        )


def _restore(connection: sqlite3.Connection, touch: Touch, entry_id: str) -> None:
    kind, content = touch.kind, _content(touch)
    row: dict[str, object] = {
        name: content.get(name) for name in content_columns(kind) if not _is_of_placing(touch, name)
    }
    if kind.own:
        (version,) = connection.execute(f"SELECT version FROM {kind.table} WHERE id = ?", (touch.row_id,)).fetchone()
        row |= {"version": entry_id, "parents": after(version)}
    else:
        keep_past(connection, kind, "r.id = ?", (touch.row_id,))
    sets = ", ".join(f"{quoted(name)} = ?" for name in row)
    connection.execute(f"UPDATE {kind.table} SET {sets} WHERE id = ?", (*row.values(), touch.row_id))
    _put_beside(connection, touch, entry_id, str(row.get("parents") or "") or None)


def _move(connection: sqlite3.Connection, move: Move) -> None:
    """Give a record to another kept file: the version that an import of that file would follow it with."""
    names = ("version", *move.kind.columns)
    row = connection.execute(
        f"SELECT {selected_columns(move.kind.table, names)} FROM {move.kind.table} WHERE id = ?", (move.row_id,)
    ).fetchone()
    version = note_version(move.kind, after(str(row["version"])), {name: row[name] for name in names})
    connection.execute(
        f"UPDATE {move.kind.table} SET note_file = ?, note_line = ?, version = ?, parents = ? WHERE id = ?",
        (move.note_file, move.note_line, version, after(str(row["version"])), move.row_id),
    )
