"""Two databases become one: the union of what both know, and what follows from it.

Nothing is decided here by who is asked or which file is which: in whatever order databases meet, and however often,
each of them holds the same in the end. A merge is nobody's entry.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Set
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, InputError
from bevelbook.facts import rows_to_place, touched_diffs
from bevelbook.meeting.diffs_of_rows_met import unite_diffs_of_rows
from bevelbook.meeting.kept_met import KEPT, KeptMet
from bevelbook.meeting.labels_met import note_labels, set_labels
from bevelbook.meeting.marks_apart import marks_apart
from bevelbook.meeting.other_database import OTHER, beside, show_as_written
from bevelbook.meeting.records_met import RecordsMet
from bevelbook.meeting.versions_met import Apart
from bevelbook.notes.erased_in_file import diffs_placed_by
from bevelbook.notes.placed_again import place_again
from bevelbook.plugin.calculator import Calculator
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.about_table import note_meeting
from bevelbook.store.as_written import apply_joins
from bevelbook.store.blanking import bytes_to_go, make_blank, unite_marks
from bevelbook.store.calculation_views import ensure_views_of_kept
from bevelbook.store.clashes import ClashFound, bring_up_to_date, clashes, may_clash
from bevelbook.store.diffs_of_rows import leave_out_what_builds_say, placed_by_us
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.erased_marks import marks_as_kept
from bevelbook.store.files_elsewhere import note_files_elsewhere, without_bytes
from bevelbook.store.heads import Content
from bevelbook.store.history import Changed, changed_by_others_there
from bevelbook.store.invented_mark import INVENTED, mark_invented
from bevelbook.store.needed import bring_back_needed
from bevelbook.store.one_with import stands_for_it
from bevelbook.store.opening import transaction
from bevelbook.store.same_things import joined_kinds
from bevelbook.store.schema import search_fill_sql
from bevelbook.store.wiping import note_to_wipe
from bevelbook.store.writing import coming_in

_OWN: Final = tuple(kind for kind in KINDS if kind.own)


class Met(NamedTuple):
    """What a meeting brought, by the name of the kind: records that were not here, records that are shown otherwise
    than before, records that are not shown any more; the clashes that were not there before; and who wrote what came.

    ``otherwise`` has how records that were changed or removed were shown before, as far as they are few; ``relabelled``
    the label that records had here until their count was taken from elsewhere; ``known`` are records that came and are
    one with one that was here. Each by the name of its kind and its id. ``erased`` counts what was taken out here since
    the other side erased it (see ``blanking.counted_kinds``), and marks of what is not here. ``behind`` counts records
    that are shown as before, are in no new clash, and of which the past, or who wrote them first, is another now.
    ``apart`` are versions, entries, what entries kept and marks of what was erased that say something else there: what
    stood here stayed, unless somebody wrote the other since. ``put_right`` counts kept files and pictures, by their
    table, of which the bytes here were not those of their name, and came from there. ``by_others`` are the records that
    another program changed there, through the triggers of the file, of which this book did not know: they came in as
    changes that nobody signed.
    """

    came: Mapping[str, int]
    changed: Mapping[str, int]
    removed: Mapping[str, int]
    clashes: tuple[ClashFound, ...]
    by_whom: Mapping[str, Mapping[str, int]]
    otherwise: Mapping[tuple[str, str], Content] = MappingProxyType({})
    relabelled: Mapping[tuple[str, str], str] = MappingProxyType({})
    known: tuple[tuple[str, str], ...] = ()
    erased: Mapping[str, int] = MappingProxyType({})
    behind: Mapping[str, int] = MappingProxyType({})
    apart: tuple[Apart, ...] = ()
    put_right: Mapping[str, int] = MappingProxyType({})
    by_others: tuple[Changed, ...] = ()

    @property
    def is_unchanged(self) -> bool:
        """Whether nothing was written here by it."""
        return not any((self.came, self.changed, self.removed, self.clashes, self.erased, self.behind, self.put_right))

    @property
    def is_empty(self) -> bool:
        """Whether all of it was here already, and the same."""
        return self.is_unchanged and not self.apart


def merge_into(
    connection: sqlite3.Connection,
    path: Path,
    other: Path,
    *,
    allow_invented: bool = False,
    allow_edition: bool = False,
    calculators: Iterable[Calculator[Any, Any]] = (),
) -> Met:
    """Bring everything that another database knows into this one, in one transaction; ``other`` is a clean file of this
    version's schema that nobody else uses.

    Results come with their views, as declared by ``calculators`` where those have them. Raises InputError where only
    one of the two is marked as invented, or the other is an edition, unless that is allowed, or where what comes does
    not fit; DatabaseError where the database cannot be written. Nothing is changed then.
    """
    with beside(connection, other):
        if not allow_edition and edition_of(connection, OTHER) is not None:
            raise InputError(
                "this is an edition, a copy to read: it tells nothing of who changed a record and when",
                code="is_edition",
                remedy="Ask whoever made it for the database that it was made from, or an export of that, and merge "
                "that one. To keep what the edition holds, start another database with it: 'bevelbook --db theirs.db "
                "new --from FILE'. Nothing was changed.",
            )
        try:
            with transaction(connection, path, stores_entry=False):
                _take_mark_over(connection, allow_invented)
                met = Meeting(connection).run()
                if not met.is_unchanged:
                    note_meeting(connection)
                ensure_views_of_kept(connection, calculators)
        except DatabaseError as fault:
            if isinstance(fault.__cause__, sqlite3.IntegrityError):
                raise _does_not_fit(fault.__cause__) from fault
            raise
    return met


def _does_not_fit(fault: sqlite3.IntegrityError) -> InputError:
    return InputError(
        "the other database has a record that does not fit this one",
        code="meeting_does_not_fit",
        found=str(fault),
        remedy="Have its owner run 'bevelbook check' there, and send it again. Nothing was changed.",
    )


def _take_mark_over(connection: sqlite3.Connection, allow_invented: bool) -> None:
    """Refuse to mix what is invented with what is real; an empty database takes the mark over."""
    marks = [
        connection.execute(f"SELECT 1 FROM {schema}.about WHERE name = ?", (INVENTED,)).fetchone() is not None
        for schema in ("main", OTHER)
    ]
    if marks[0] == marks[1]:
        return
    unmarked = "main" if marks[1] else OTHER
    if _holds_records(connection, unmarked) and not allow_invented:
        one, rest = ("The other database", "this one") if marks[1] else ("This database", "the other one")
        raise InputError(
            f"{one} says that everything in it is invented, and {rest} does not",
            code="invented_and_real",
            remedy="Nothing was changed: what is invented would stand among what you measured.",
        )
    mark_invented(connection)


def _holds_records(connection: sqlite3.Connection, schema: str) -> bool:
    return any(connection.execute(f"SELECT 1 FROM {schema}.{kind.table} LIMIT 1").fetchone() for kind in _OWN)


class Meeting:
    """One meeting, inside a transaction."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.records = RecordsMet(connection)
        self.kept = KeptMet(connection)
        self.erased_files: set[str] = set()
        self.marks_apart: list[Apart] = []

    def run(self) -> Met:
        """Bring everything in and write what follows; says what came."""
        connection = self.connection
        connection.execute("PRAGMA defer_foreign_keys = ON")
        before = {(one.kind.table, one.row_id): one for one in clashes(connection)}
        by_others = tuple(changed_by_others_there(connection, OTHER))
        missing = without_bytes(connection)
        with coming_in(connection):
            for schema in ("main", OTHER):
                show_as_written(connection, schema)
            erased = self._unite_erased()
            note_labels(connection)
            self.kept.bring_in_entries()
            held = self._kinds_of_other()
            for name in KEPT:
                if BY_NAME[name].table in held:
                    self.kept.bring_in(BY_NAME[name])
            self._bring_in_records(held)
            for kind in _OWN:
                self.records.settle(kind)
            unite_diffs_of_rows(connection, self.records)
            needed = bring_back_needed(connection)
            self.kept.hide_without_file()
            relabelled = set_labels(connection)
            placed_otherwise = self._placed_otherwise(needed.builds)
            leave_out_what_builds_say(connection)
        apply_joins(connection)
        files_that_came = note_files_elsewhere(connection, missing)
        diffs = placed_otherwise | self._diffs_of_files(files_that_came | set(self.kept.put_right["note_bytes"]))
        diffs |= diffs_placed_by(connection, self.erased_files)
        self._place({stands_for_it(connection, BY_NAME["diff"], diff) for diff in diffs})
        back = {(one.kind.name, one.row_id) for one in needed.records}
        gone = self.records.gone | self.kept.gone
        bring_up_to_date(connection, may_clash(connection))
        now = clashes(connection)
        new = tuple(one for one in now if before.get((one.kind.table, one.row_id)) != one)
        clashing = {(one.kind.table, one.row_id) for one in new}
        return Met(
            self.records.came + self.kept.came,
            self.records.changed + self.kept.changed + Counter(kind for kind, _ in back - gone),
            Counter(kind for kind, _ in gone - back),
            new,
            self._by_whom(),
            self.records.otherwise,
            {one: label for one, label in relabelled.items() if self._was_here(*one)},
            tuple(self._known_here()),
            erased,
            Counter(kind for kind, row_id in self.records.behind if (BY_NAME[kind].table, row_id) not in clashing),
            tuple(one for one in (*self.marks_apart, *self.kept.apart, *self.records.apart) if not one.is_settled),
            {table: len(names) for table, names in self.kept.put_right.items() if names},
            by_others,
        )

    def _unite_erased(self) -> dict[str, int]:
        """Have what was erased on either side be blank on both, before anything comes in; returns what that took out
        here."""
        before = marks_as_kept(self.connection)
        self.marks_apart += marks_apart(self.connection)
        blank = unite_marks(self.connection, ("main", OTHER))
        if blank is None:
            return {}
        for schema in ("main", OTHER):
            self.erased_files |= set(bytes_to_go(self.connection, blank, schema).files)
        self.connection.execute("PRAGMA secure_delete = ON")
        taken_out = make_blank(self.connection, blank)
        make_blank(self.connection, blank, OTHER)
        if new := len(marks_as_kept(self.connection).items() - before.items()):
            taken_out["marks"] = new
        if taken_out.keys() - {"marks"}:
            note_to_wipe(self.connection)
        return dict(taken_out)

    def _was_here(self, kind_name: str, row_id: str) -> bool:
        table = BY_NAME[kind_name].table
        asked = f"SELECT 1 FROM main.{table} WHERE id = ? AND rowid <= ?"
        return self.connection.execute(asked, (row_id, self.records.last_rowids[table])).fetchone() is not None

    def _known_here(self) -> Iterator[tuple[str, str]]:
        """The records that came and are one with a record that was here, by name or because somebody said so."""
        for kind in joined_kinds():
            if not self.records.came[kind.name]:
                continue
            stands = "coalesce((SELECT stands FROM one_with o WHERE o.kind = ?1 AND o.id = {0}.id), {0}.id)"
            for (row_id,) in self.connection.execute(
                f"SELECT t.id FROM main.{kind.table} t WHERE t.rowid > ?2 AND {stands.format('t')} IN "
                f"(SELECT {stands.format('h')} FROM main.{kind.table} h WHERE h.rowid <= ?2) ORDER BY t.id",
                (kind.name, self.records.last_rowids[kind.table]),
            ).fetchall():
                yield kind.name, str(row_id)

    def _kinds_of_other(self) -> set[str]:
        """The tables of which the other database knows anything, and those of which a row here is only needed."""
        asked = " UNION ALL ".join(
            f"SELECT '{kind.table}' WHERE EXISTS (SELECT 1 FROM {OTHER}.{kind.table})" for kind in KINDS
        )
        tables = {row[0] for row in self.connection.execute(asked)}
        tables |= {row[0] for row in self.connection.execute(f"SELECT DISTINCT table_name FROM {OTHER}.history")}
        needed = "SELECT table_name FROM main.clashes WHERE why = 'needed'"
        return tables | {row[0] for row in self.connection.execute(needed)}

    def _bring_in_records(self, held: Set[str]) -> None:
        connection = self.connection
        for kind in _OWN:
            self.records.bring_in(kind, is_held=kind.table in held)
        for kind in _OWN:
            if kind.searched and self.records.came[kind.name]:
                connection.execute(search_fill_sql(kind, "WHERE rowid > ?"), (self.records.last_rowids[kind.table],))

    def _diffs_of_files(self, hashes: Set[str]) -> set[str]:
        """The diffs with rows of files whose bytes came: they say where corrected rows stood."""
        found: set[str] = set()
        for (file,) in self.connection.execute(
            "SELECT id FROM main.note_files WHERE sha256 IN (SELECT value FROM json_each(?)) ORDER BY id",
            (json.dumps(sorted(hashes)),),
        ).fetchall():
            found |= touched_diffs.diffs_of_file(self.connection, file)
        return found

    def _place(self, placed_otherwise: set[str]) -> None:
        """Place the note rows again of all diffs that both knew and of which anything came or changed."""
        connection = self.connection
        touched = {row[0] for row in connection.execute("SELECT diff FROM temp.touched")}
        touched |= placed_otherwise
        touched_diffs.touch_new_rows(connection, self.records.with_new_rows())
        touched |= {
            row[0]
            for row in connection.execute(
                "SELECT t.diff FROM temp.touched t WHERE EXISTS "
                "(SELECT 1 FROM main.builds b WHERE b.diff = t.diff AND b.rowid <= ?)",
                (self.records.last_rowids["builds"],),
            )
        }
        diffs = sorted(diff for diff in touched if self._has_rows_of_notes(diff))
        if diffs:
            place_again(connection, diffs, turn=False)
        touched_diffs.touch(connection, touched)
        rows_to_place.clear(connection)

    def _placed_otherwise(self, builds: Set[str]) -> set[str]:
        """The diffs of which the two databases had placed a row otherwise, of which a build went to another one, and
        those of these builds (by id)."""
        builds_otherwise = json.dumps(sorted(builds | self.records.diffs_before.keys()))
        found: set[str] = set()
        for table in ("weighings", "run_diffs"):
            for row in self.connection.execute(
                f"SELECT DISTINCT b.diff FROM main.{table} t JOIN main.builds b ON b.id = t.build "
                f"LEFT JOIN {OTHER}.{table} o ON o.id = t.id WHERE {placed_by_us('build')} "
                "AND (o.build IS NOT t.build AND o.id IS NOT NULL OR t.build IN (SELECT value FROM json_each(?)))",
                (builds_otherwise,),
            ):
                found.add(row[0])
        for row in self.connection.execute(
            f"SELECT DISTINCT t.diff FROM {OTHER}.builds o CROSS JOIN main.builds t ON t.id = o.id "
            "WHERE o.day_order IS NOT t.day_order AND t.note_file IS NOT NULL"
        ):
            found.add(row[0])
        return found

    def _has_rows_of_notes(self, diff: str) -> bool:
        return (
            self.connection.execute(
                "SELECT 1 FROM main.builds b WHERE b.diff = ?1 AND (b.note_file IS NOT NULL "
                "OR EXISTS (SELECT 1 FROM main.weighings w WHERE w.build = b.id AND w.note_file IS NOT NULL) "
                "OR EXISTS (SELECT 1 FROM main.run_diffs x WHERE x.build = b.id AND x.note_file IS NOT NULL)) LIMIT 1",
                (diff,),
            ).fetchone()
            is not None
        )

    def _by_whom(self) -> dict[str, dict[str, int]]:
        """Who wrote the records that came, by kind."""
        found: dict[str, Counter[str]] = {}
        for kind in _OWN:
            if not self.records.came[kind.name]:
                continue
            for by, count in self.connection.execute(
                f"SELECT coalesce(updated_by, ''), count(*) FROM main.{kind.table} WHERE rowid > ? "
                "GROUP BY 1 ORDER BY 1",
                (self.records.last_rowids[kind.table],),
            ):
                found.setdefault(by, Counter())[kind.name] += count
        return {by: dict(counts) for by, counts in sorted(found.items())}
