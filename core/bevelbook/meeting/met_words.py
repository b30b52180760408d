"""What a meeting brought, in words: who wrote what, what it changed, what is in clash, and what to look at."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.meeting.apart_words import ApartSaid, said_apart
from bevelbook.meeting.union import Met
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.reports.clashes import ClashSaid, said_clashes
from bevelbook.reports.left_with_others import LeftWithOther, left_with_others
from bevelbook.reports.look_alike_names import names_that_look_alike
from bevelbook.reports.rows_to_turn_findings import rows_to_turn_findings
from bevelbook.reports.what_changed import OnShelf, all_on_shelf, shelf_changes
from bevelbook.reports.written_twice_findings import written_twice_findings
from bevelbook.store.heads import Content
from bevelbook.store.history import Changed
from bevelbook.store.one_with import one_with_it, stands_for_it
from bevelbook.store.record_names import names_of
from bevelbook.store.told_apart import KINDS_TOLD_APART
from bevelbook.store.versions import entry_of, parents_in
from bevelbook.store.wiping import is_to_wipe
from bevelbook.taking_back.words import PART_OF, changes_in_words, record_words

ALL_HERE: Final = "All of it was here already."
_UNSAID: Final = frozenset({*PART_OF, "bench_step", "entry", "note_reject", "note_extra", "picture", "clash"})
"""Kinds that come with another, or that nobody asks for."""
_SPOKEN: Final = {
    "calculation": ("kept result", "kept results"),
    "note_file": ("file of notes", "files of notes"),
    "photo": ("photograph", "photographs"),
    "note_reject": ("row left out of notes", "rows left out of notes"),
    "note_extra": ("row with cells beside it", "rows with cells beside them"),
    "erasure": ("mark of what was erased", "marks of what was erased"),
    "put_by": ("finding put by", "findings put by"),
    "car_diff": ("diff put into a car", "diffs put into cars"),
    "car_value": ("value of a car", "values of cars"),
}
"""What people call one and several of a kind, where that is not its own name."""
_NAMED: Final = 5
"""Clashes, names and diffs that are named; more are counted."""
_CHANGES_NAMED: Final = 8
"""Changed and removed records that are named."""
_SHELF_NAMED: Final = 20


class _Called(NamedTuple):
    """The name of a record as it was written, and as it is shown."""

    written: str
    shown: str


class BeforeMeeting(NamedTuple):
    """What was so before the other side came: the records whose name others had too, with what was written and what was
    shown, names that looked alike, the shelf, and builds that may be one."""

    shared: Mapping[tuple[str, str], _Called]
    alike: Collection[str]
    shelf: Mapping[str, OnShelf]
    twice: Collection[str]


class MetSaid(NamedTuple):
    """What came of a meeting: lines for people, the new clashes, the versions that say something else there, whether
    nothing was written here, and the records that came as another program changed them there."""

    lines: tuple[str, ...]
    clashes: tuple[ClashSaid, ...]
    apart: tuple[ApartSaid, ...]
    is_unchanged: bool
    by_others: tuple[Changed, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "lines": list(self.lines),
            "clashes": [one.as_dict() for one in self.clashes],
            "said_otherwise_there": [one.as_dict() for one in self.apart],
            "changed_by_another_program_there": [one._asdict() for one in self.by_others],
        }


def looked_before(connection: sqlite3.Connection) -> BeforeMeeting:
    """What :func:`said_met` compares with, asked before the other side comes in."""
    return BeforeMeeting(
        _shared(connection),
        _looking_alike(connection),
        all_on_shelf(connection),
        {one.words for one in written_twice_findings(connection)},
    )


def said_met(connection: sqlite3.Connection, met: Met, before: BeforeMeeting) -> MetSaid:
    """What a meeting brought, from the database with it: ``bo: 2 builds, 14 runs; 1 clash: dry mass of rear-a/12``."""
    clashes = tuple(said_clashes(connection, met.clashes))
    apart = said_apart(connection, met.apart)
    came = [
        f"{who or 'without a name'}: {words}" for who, kinds in sorted(met.by_whom.items()) if (words := _counts(kinds))
    ]
    changed, removed = _counts(met.changed), _counts(met.removed)
    lines = [ALL_HERE] if met.is_empty else came
    if not met.is_empty and not came:
        lines = [f"New: {_counts(met.came)}."] if _counts(met.came) else []
        if not (lines or changed or removed or clashes):
            lines = ["Nothing that is shown is new."]
    lines += _known_here(connection, met)
    if changed:
        lines.append(f"Changed by it: {changed}.")
    if removed:
        lines.append(f"Removed by it: {removed}.")
    if behind := _counts(met.behind):
        lines.append(f"Behind what is shown came past versions, or who wrote it first and when: {behind}.")
    lines += _put_right(met)
    lines += _erased(connection, met)
    lines += _named_changes(connection, met, before)
    by_others = () if met.is_unchanged else met.by_others
    lines += [
        *_by_others(by_others),
        *_apart(apart),
        *_in_clash(clashes),
        *_shared_names(connection, before),
        *_called_otherwise(connection, met, before),
    ]
    lines += [*[one for one in _looking_alike(connection) if one not in before.alike][:_NAMED]]
    lines += [*_to_place(connection), *_written_twice(connection, before), *_shelf(connection, before)]
    return MetSaid(tuple(lines), clashes, apart, met.is_unchanged, by_others)


_TAKEN_OUT: Final = (
    ("records", "record"),
    ("versions", "past version"),
    ("files", "kept file"),
    ("left out", "left-out row"),
    ("results", "kept result"),
    ("entries", "entry"),
    ("pictures", "picture"),
)


def _put_right(met: Met) -> Iterator[str]:
    """Of which files and pictures the bytes here were spoiled, and came as they were kept."""
    named = [
        counted(met.put_right[table], words)
        for table, words in (("note_bytes", "kept file"), ("picture_bytes", "picture"))
        if met.put_right.get(table)
    ]
    if named:
        yield f"Put right by it, spoiled here and whole there: {' and '.join(named)}."


def _erased(connection: sqlite3.Connection, met: Met) -> Iterator[str]:
    """What was taken out here since the other side had erased it."""
    taken = [counted(met.erased[name], words) for name, words in _TAKEN_OUT if met.erased.get(name)]
    if taken:
        yield (
            f"Erased by it, since the other side erased it: what was said in {', '.join(taken)}. It cannot be taken "
            "back, and the copy of before still has it."
        )
        if is_to_wipe(connection):
            yield (
                "The old text is still in free pages of the file, since another program has it open: close that, then "
                "type 'bevelbook erase'."
            )


def _counts(kinds: Mapping[str, int]) -> str:
    return ", ".join(
        _count(kinds[kind.name], kind.name) for kind in KINDS if kind.name not in _UNSAID and kinds.get(kind.name)
    )


def _count(count: int, kind_name: str) -> str:
    one, many = _SPOKEN.get(kind_name, (kind_name, BY_NAME[kind_name].table))
    return f"{count:,} {(one if count == 1 else many).replace('_', ' ')}"


def _in_clash(clashes: tuple[ClashSaid, ...]) -> Iterator[str]:
    if clashes:
        named = "; ".join(one.in_short for one in clashes[:_NAMED])
        more = f"; and {len(clashes) - _NAMED} more" if len(clashes) > _NAMED else ""
        yield f"{counted(len(clashes), 'clash')}: {named}{more}."


def _by_others(found: Collection[Changed]) -> Iterator[str]:
    """What another program changed there, which looks like what somebody did, but names nobody."""
    if found:
        named = ", ".join(f"{counted(one.records, 'record')} of {one.table.replace('_', ' ')}" for one in found)
        yield (
            f"Another program changed {named} there, in nobody's name: it is taken in as a change. 'bevelbook check' "
            "names it here too until somebody accepts it, and 'bevelbook history' shows what it was. If it is wrong, "
            "put it right by hand, or go back to the copy of before that a merge keeps."
        )


def _apart(apart: tuple[ApartSaid, ...]) -> Iterator[str]:
    """That versions say something else there, and that what stands here stays."""
    if apart:
        named = "; ".join(one.in_short for one in apart[:_NAMED])
        more = f"; and {len(apart) - _NAMED:,} more" if len(apart) > _NAMED else ""
        says = "says" if len(apart) == 1 else "say"
        yield (
            f"{_counted_apart(apart)} {says} something else there than here, which only another program does: "
            f"{named}{more}. What stands here stays."
        )


def _counted_apart(apart: Collection[ApartSaid]) -> str:
    """``2 versions of records, 1 entry``."""
    counts = Counter("" if one.kind.own else one.kind.name for one in apart)
    return ", ".join(
        f"{counted(count, 'version')} of records" if not name else _count(count, name) for name, count in counts.items()
    )


def _known_here(connection: sqlite3.Connection, met: Met) -> Iterator[str]:
    """Of diffs, fluids, people and others that came: which are one with those that were here."""
    if met.known:
        named = ", ".join(record_words(connection, BY_NAME[kind], row_id) for kind, row_id in met.known[:_NAMED])
        more = f" and {len(met.known) - _NAMED} more" if len(met.known) > _NAMED else ""
        yield f"Of these, here already by name: {named}{more}."
        left = [one.line for kind, row_id in met.known for one in _left(connection, BY_NAME[kind], row_id)]
        yield from left[:_CHANGES_NAMED]
        if len(left) > _CHANGES_NAMED:
            yield f"And {len(left) - _CHANGES_NAMED} more such values: 'bevelbook history' shows what was written."


def _left(connection: sqlite3.Connection, kind: Kind, row_id: str) -> Iterator[LeftWithOther]:
    """What one that came and the one that was here say differently, or one of them alone."""
    stands = stands_for_it(connection, kind, row_id)
    others = one_with_it(connection, kind, stands) if stands == row_id else [row_id]
    return left_with_others(connection, kind, stands, others)


def _named_changes(connection: sqlite3.Connection, met: Met, before: BeforeMeeting) -> Iterator[str]:
    """What records say now and said before, and which were removed, each with who did it, while they are few."""
    said = [
        line
        for (name, row_id), was in met.otherwise.items()
        if name not in ("entry", "clash") and (line := _change(connection, BY_NAME[name], row_id, was, before))
    ]
    yield from said[:_CHANGES_NAMED]
    if len(said) > _CHANGES_NAMED:
        yield f"And {len(said) - _CHANGES_NAMED} more: the history of each record says what it was."


def _change(connection: sqlite3.Connection, kind: Kind, row_id: str, was: Content, before: BeforeMeeting) -> str | None:
    row = connection.execute(f"SELECT * FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()
    if row is None:
        return None if kind.name in PART_OF else f"Removed: {record_words(connection, kind, row_id, was)}."
    label = kind.label or "id"
    then, now = dict(was), dict(row)
    for field in kind.fields:
        if field.kind == "reference" and field.target and then.get(field.name) is not None:
            then[field.name] = stands_for_it(connection, BY_NAME[field.target], str(then[field.name]))
    if kind in KINDS_TOLD_APART:
        now[label] = _written(connection, kind, row_id, label) or now[label]
    words = changes_in_words(connection, kind, then, now)
    if not words:
        return None
    return f"{record_words(connection, kind, row_id)}: {'; '.join(words)}{_by_whom(connection, now)}."


def _written(connection: sqlite3.Connection, kind: Kind, row_id: str, column: str) -> str | None:
    row = connection.execute(
        "SELECT written FROM as_written WHERE table_name = ? AND row_id = ? AND column_name = ?",
        (kind.table, row_id, column),
    ).fetchone()
    return None if row is None else str(row[0])


def _by_whom(connection: sqlite3.Connection, now: Mapping[str, Any]) -> str:
    """Who wrote the version that is shown, and whether it settled a clash."""
    row = connection.execute("SELECT made_by FROM entries WHERE id = ?", (entry_of(now["version"]),)).fetchone()
    who = row[0] if row is not None else now.get("updated_by")
    is_settled = len(parents_in(now["parents"])) > 1
    if not who:
        return ", settled" if is_settled else ""
    return f" ({'settled ' if is_settled else ''}by {who})"


def _called_otherwise(connection: sqlite3.Connection, met: Met, before: BeforeMeeting) -> Iterator[str]:
    """The records that were here and have another name now: ``Build rear-a/2 of anna is called rear-a/1 now``."""
    had = {(BY_NAME[kind].table, row_id): label for (kind, row_id), label in met.relabelled.items()}
    had |= {one: called.shown for one, called in before.shared.items()}
    said = []
    for (table, row_id), was in had.items():
        kind = BY_TABLE[table]
        row = connection.execute(f"SELECT {kind.label or 'id'} FROM {table} WHERE id = ?", (row_id,)).fetchone()
        if kind.name != "bottle" and row is not None and row[0] != was:
            said.append(f"{kind.name.capitalize()} {was} is called {row[0]} now.")
    yield from said[:_CHANGES_NAMED]
    if len(said) > _CHANGES_NAMED:
        yield f"And {len(said) - _CHANGES_NAMED} more builds and runs have another name now."


def _written_twice(connection: sqlite3.Connection, before: BeforeMeeting) -> Iterator[str]:
    new = [one for one in written_twice_findings(connection) if one.words not in before.twice]
    for one in new[:_NAMED]:
        yield f"{one.words}. If so, keep one: the check says how."
    if len(new) > _NAMED:
        yield f"And {counted(len(new) - _NAMED, 'more day')} on which a diff has builds of several people."


def _shelf(connection: sqlite3.Connection, before: BeforeMeeting) -> Iterator[str]:
    """What changed on the shelf, as after any other command; a diff that is one with another now was that one."""
    was: dict[str, OnShelf] = {}
    for diff, on_shelf in before.shelf.items():
        stands = stands_for_it(connection, BY_NAME["diff"], diff)
        if diff == stands or stands not in before.shelf:
            was[stands] = on_shelf
    lines = [one.line() for one in shelf_changes(connection, was)]
    yield from lines[:_SHELF_NAMED]
    if len(lines) > _SHELF_NAMED:
        yield f"And {counted(len(lines) - _SHELF_NAMED, 'more diff')} changed on the shelf."


def _shared(connection: sqlite3.Connection) -> dict[tuple[str, str], _Called]:
    """The records whose name others have too, by table and id."""
    found: dict[tuple[str, str], _Called] = {}
    for kind in KINDS_TOLD_APART:
        label = kind.label or "id"
        found |= {
            (kind.table, row[0]): _Called(str(row[1]), str(row[2]))
            for row in connection.execute(
                f"SELECT w.row_id, w.written, t.{label} FROM as_written w CROSS JOIN {kind.table} t ON t.id = w.row_id "
                "WHERE w.table_name = ? AND w.column_name = ? ORDER BY t.id",
                (kind.table, label),
            )
        }
    return found


def _shared_names(connection: sqlite3.Connection, before: BeforeMeeting) -> Iterator[str]:
    """The names that more records have than before, each with what to type for them."""
    groups: dict[tuple[str, str], list[str]] = {}
    written: dict[tuple[str, str], str] = {}
    new: dict[tuple[str, str], None] = {}
    for (table, row_id), (name, _) in _shared(connection).items():
        group = table, name.casefold()
        groups.setdefault(group, []).append(row_id)
        written.setdefault(group, name)
        if (table, row_id) not in before.shared:
            new[group] = None
    for group in list(new)[:_NAMED]:
        kind = BY_TABLE[group[0]]
        shown = names_of(connection, kind, groups[group])
        named = " and ".join(sorted(shown.values()))
        yield f"{len(groups[group])} {kind.table} are called {written[group]}: {named}."
    if len(new) > _NAMED:
        yield f"And {counted(len(new) - _NAMED, 'more name')} of several records."


def _looking_alike(connection: sqlite3.Connection) -> dict[str, None]:
    return {f"{one.words} '{one.command}' joins them.": None for one in names_that_look_alike(connection)}


def _to_place(connection: sqlite3.Connection) -> Iterator[str]:
    for one in list(rows_to_turn_findings(connection))[:_NAMED]:
        yield f"{one.subject_label}: {one.words}."
