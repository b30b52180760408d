"""Kept files of notes read once more, and what they say compared with the records that came of them.

The id of a row is a hash of its cells: where the file, read now, has a row of that id, its cells are those that came
in, whatever version read them first. Its records that nobody changed since hold these cells and nothing else. A file
that reads otherwise now proves nothing of the rows that differ, and that is said.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Mapping, Sequence, Set
from itertools import groupby, islice
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.kept_json import object_in
from bevelbook.notes.bulk import LOOKED_UP_ROWS, Bulk, left_id
from bevelbook.notes.changed_rows import CHANGED_LATER, LOOKS_CHANGED, lines_elsewhere, look_for_changes, same_rows
from bevelbook.notes.decoding import FileRejected, unpacked
from bevelbook.notes.kept_file_read import kept_file_read
from bevelbook.notes.note_columns import REFERRED, STORED
from bevelbook.notes.notes_of_stage import StagedNote, notes_of
from bevelbook.notes.row_read_back import DIGITS, ORIGINS, cells_beside, columns_of_record
from bevelbook.notes.staging import Stage
from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store.edition_mark import file_came_with_edition_sql
from bevelbook.store.erased_marks import ERASED
from bevelbook.store.files_as_kept import hash_of_packed
from bevelbook.store.record_names import names_of
from bevelbook.store.schema import literal, selected_columns
from bevelbook.store.written_otherwise import OneThing, WrittenOtherwise, names_ever

_ONE_DEMO_MIN: Final = 10
"""Minutes within which the entries of one demo are; it takes less than one."""
_BOOKS: Final = ("version", "note_file", "note_line", "created_at")


class ReadOnceMore(NamedTuple):
    """What came of it: how many rows were compared, what is wrong, references that were written otherwise, and what
    else is to be said."""

    rows: int
    wrong: tuple[str, ...]
    written: tuple[WrittenOtherwise, ...]
    noted: tuple[str, ...]


class _KeptFile(NamedTuple):
    row_id: str
    name: str
    called: str
    sha256: str
    byte_count: int
    options: str | None
    accepted: int
    rejected: int
    skipped: int
    packed: bytes
    came_with_edition: int


def files_read_once_more(connection: sqlite3.Connection) -> ReadOnceMore:
    """All kept files whose bytes are here, one after the other. The connection may be read-only.

    Raises sqlite3.Error.
    """
    looking = _FilesOnceMore(connection)
    for row_id in [row[0] for row in connection.execute("SELECT id FROM main.note_files ORDER BY read_at, id")]:
        found = connection.execute(
            f"SELECT f.id, f.name, {called_file_sql('f')}, f.sha256, f.byte_count, f.options, f.accepted, f.rejected, "
            f"f.skipped, b.packed, {file_came_with_edition_sql('f')} FROM main.note_files f "
            "JOIN main.note_bytes b ON b.sha256 = f.sha256 WHERE f.id = ?",
            (row_id,),
        ).fetchone()
        if found is not None:
            looking.look_at(_KeptFile(*found))
    if of_editions := looking.of_editions:
        looking.noted.append(
            f"{counted(of_editions, 'file')} of notes came with an edition, which says neither how a file was read nor "
            "what was left out of it: only the bytes were checked, not what came of them"
        )
    return ReadOnceMore(looking.rows, tuple(looking.wrong), tuple(looking.written), tuple(looking.noted))


class _LinesLeftOut(NamedTuple):
    """The lines that were left out of a file, each with its status: those that are kept, and those that reading it now
    leaves out."""

    kept: Counter[tuple[int, str]]
    now: Counter[tuple[int, str]]


class _FilesOnceMore:
    """Goes through the files; collects what is found."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.rows = 0
        self.wrong: list[str] = []
        self.written: list[WrittenOtherwise] = []
        self.noted: list[str] = []
        self.of_editions = 0
        self._things = OneThing(connection)
        self._names: dict[tuple[str, str], frozenset[str]] = {}
        self._own_lines: set[int] = set()
        """The lines of the file in progress whose records are its own, as they came."""
        self._joined: dict[str, bool] = {}

    def look_at(self, file: _KeptFile) -> None:
        """Read one file and compare."""
        if hash_of_packed(file.packed) != file.sha256:
            return  # said of the kept file itself
        held = unpacked(file.packed)
        if (size := len(held)) != file.byte_count:
            self.wrong.append(f"{file.called} has {size:,} bytes, and {file.byte_count:,} are kept as its size")
        if file.came_with_edition:
            self.of_editions += 1
            return
        try:
            with kept_file_read(self.connection, file.name, file.options, held) as stage:
                self._compare(file, stage)
        except FileRejected as fault:
            self.noted.append(f"{file.called} cannot be read any more, so its rows were not compared: {fault}")

    def _compare(self, file: _KeptFile, stage: Stage) -> None:
        kept = self.connection.execute(
            "SELECT line, status, reason FROM main.note_rejects WHERE note_file = ? ORDER BY line, id", (file.row_id,)
        ).fetchall()
        left = {line for line, _, _ in kept}
        aside = [(line, status) for line, status, reason in kept if reason == LOOKS_CHANGED]
        stage.set_aside([line for line, _ in aside])
        counts = _LinesLeftOut(
            kept=Counter((line, status) for line, status, reason in kept if reason != CHANGED_LATER),
            now=Counter([*aside, *((one.line, one.status) for one in stage.left())]),
        )
        self._own_lines.clear()
        unknown: dict[int, str] = {}
        met: set[str] = set()
        rows = notes_of(stage)
        while some := list(islice(rows, LOOKED_UP_ROWS)):
            held = self._held([one.note for one in some])
            for one in some:
                met.add(one.note)
                records = held.get(one.note)
                if records:
                    self.rows += 1
                    self._compare_row(file, stage, one, records)
                elif one.line not in left:
                    unknown[one.line] = one.note
        if self._look_for_rows(file, stage, unknown, met, counts):
            self._compare_left_out(file, stage)

    def _held(self, notes: Sequence[str]) -> dict[str, dict[str, dict[str, Any]]]:
        """The records of each row that has any, by the kind."""
        found: dict[str, dict[str, dict[str, Any]]] = {}
        asked = json.dumps(notes)
        for kind_name, digit in DIGITS.items():
            kind = BY_NAME[kind_name]
            columns = ("id", *_BOOKS, *STORED[kind_name])
            cursor = self.connection.cursor()
            cursor.row_factory = None
            for row in cursor.execute(
                f"SELECT {selected_columns('t', columns)} FROM json_each(?) j CROSS JOIN main.{kind.table} t "
                f"ON t.id = j.value || '{digit}'",
                (asked,),
            ):
                record = dict(zip(columns, row, strict=True))
                found.setdefault(record["id"][:-1], {})[kind_name] = record
        self._show_written(found, asked)
        return found

    def _show_written(self, found: Mapping[str, Mapping[str, dict[str, Any]]], asked: str) -> None:
        if not self._things:
            return
        for kind_name, digit in DIGITS.items():
            for row_id, column, written in self.connection.execute(
                "SELECT a.row_id, a.column_name, a.written FROM json_each(?) j CROSS JOIN main.as_written a "
                f"ON a.table_name = ? AND a.row_id = j.value || '{digit}'",
                (asked, BY_NAME[kind_name].table),
            ):
                found[row_id[:-1]][kind_name][column] = written

    def _compare_row(
        self, file: _KeptFile, stage: Stage, one: StagedNote, records: Mapping[str, dict[str, Any]]
    ) -> None:
        cells = dict(zip(stage.present, one.row, strict=True))
        placed: set[str] = {"date", "diff"}
        is_as_it_came = True
        for kind_name, record in records.items():
            columns = columns_of_record(kind_name, record.get(ORIGINS.get(kind_name, "")))
            is_first = record["version"] == record["id"]
            is_as_it_came &= is_first
            for column, name in columns.items():
                value = record[column]
                if value is None:
                    continue
                placed.add(name)
                if not is_first:
                    continue
                said = cells.get(name)
                if name in REFERRED:
                    self._compare_reference(file, one, kind_name, record, column, REFERRED[name], said)
                elif value != said and not (name == "runs" and value == 0 and said is None) and not _is_erased(value):
                    self._say(file, one.line, kind_name, column, value, said)
            if is_first:
                self._compare_worked_out(file, one, kind_name, record)
        if is_as_it_came and all(record["note_file"] == file.row_id for record in records.values()):
            self._own_lines.add(one.line)
        missing = [name for name, value in cells.items() if value is not None and name not in placed]
        if missing and is_as_it_came:
            beside = self._beside(file, one.line, records)
            missing = [name for name in missing if name not in beside]
            if missing and not self._once_there([one.note]):
                self.wrong.append(
                    f"line {one.line} of {file.called}: what it says of {', '.join(missing)} is in no record that came "
                    "of it, and nobody took it out in an entry"
                )

    def _compare_worked_out(self, file: _KeptFile, one: StagedNote, kind_name: str, record: Mapping[str, Any]) -> None:
        """What follows from the row beside its cells."""
        if kind_name == "build":
            said = None if record["viscosity_cst"] is None else "note"
            if record["viscosity_from"] != said:
                self._say(file, one.line, kind_name, "viscosity_from", record["viscosity_from"], said)
        if kind_name == "run_diff" and record["run"] != record["id"][:-1] + DIGITS["run"]:
            self._say(file, one.line, kind_name, "run", "another run", "its own")
        if record["note_file"] == file.row_id and record["note_line"] != one.line:
            self._say(file, one.line, kind_name, "note_line", record["note_line"], one.line)
        if record["note_file"] is None:
            self._say(file, one.line, kind_name, "note_file", None, file.called)

    def _compare_reference(
        self,
        file: _KeptFile,
        one: StagedNote,
        kind_name: str,
        record: Mapping[str, Any],
        column: str,
        target: str,
        said: str | None,
    ) -> None:
        held = record[column]
        names = self._names_of(target, held)
        if said is None:
            self._say(file, one.line, kind_name, column, self._name_of(target, held), said)
            return
        if folded_label(said) in names or any(_is_erased(name) for name in names):
            return
        kind = BY_NAME[kind_name]
        written = self._things.written_with(target, held, said, record["created_at"])
        if written is not None:
            witness = f"as {file.called} has it"
            self.written.append(WrittenOtherwise(kind, record["id"], kind.field(column), held, written, witness))
        elif names and not self._was_ever_joined(target):
            self._say(file, one.line, kind_name, column, self._name_of(target, held), said)

    def _look_for_rows(
        self, file: _KeptFile, stage: Stage, unknown: Mapping[int, str], met: Set[str], left_out: _LinesLeftOut
    ) -> bool:
        """Rows of the file without a record, and records of the file without a row. Returns whether the file reads as
        it did when it came in."""
        tables = " UNION ALL ".join(
            f"SELECT id, note_line, {literal(name)} FROM main.{BY_NAME[name].table} WHERE note_file = ?1 "
            "AND version = id"
            for name in DIGITS
        )
        otherwise = {
            (line, name)
            for row_id, line, name in self.connection.execute(tables, (file.row_id,))
            if row_id[:-1] not in met
        }
        once = self._once_there([*unknown.values()])
        lines = [line for line, note in unknown.items() if note not in once]
        is_same = not (lines and otherwise)
        if lines:
            known = self._held_otherwise(file, stage, lines)
            lines = [line for line in lines if line not in known]
        said = (file.rejected, file.skipped)
        if _by_status(left_out.now) != said:
            are_counts_changed = left_out.kept == left_out.now and self._was_read_in_once(file)
            if are_counts_changed:
                self.wrong.append(
                    f"{file.called} left out {_in_words(*_by_status(left_out.now))}, as are kept of it, and its own "
                    f"counts say {_in_words(*said)}: another program changed them"
                )
            is_same &= are_counts_changed
        if otherwise and is_same:
            names = sorted({BY_NAME[name].table.replace("_", " ") for _, name in otherwise})
            self.wrong.append(
                f"{counted(len(otherwise), 'record')} of {', '.join(names)} say that they came from {file.called}, and "
                "no row of it made them: another program changed that"
            )
        elif not is_same:
            self.noted.append(
                f"{file.called} reads otherwise now than when it came in: what it left out was not compared, nor what "
                "came of rows that read otherwise. Where neither a newer version nor what was entered since is why, "
                "another program changed its counts: compare with an older copy"
            )
        elif lines:
            self.wrong.append(
                f"{file.called}: {counted(len(lines), 'row')} of it, the first on line {min(lines)}, "
                f"{'has' if len(lines) == 1 else 'have'} no record here, and the history has none: another program "
                "removed what came of it"
            )
        elif len(met) != file.accepted:
            self.wrong.append(f"{file.called} has {len(met):,} rows, and {file.accepted:,} are kept as its count")
        return is_same

    def _was_read_in_once(self, file: _KeptFile) -> bool:
        """Whether no more than one import can have read the file, so that its counts and what is kept of its lines are
        of one version: where two laptops read it, they are put together of what two versions found.

        Of the readings of two laptops the earlier names the entry of the file; of the other the entry alone is left. A
        demo has entries without a file beside those of its files.
        """
        named = (
            "SELECT id, entry FROM main.note_files UNION SELECT row_id, json_extract(content, '$.entry') "
            f"FROM main.history WHERE table_name = {literal(BY_NAME['note_file'].table)} AND json_valid(content)"
        )
        own = self.connection.execute(
            f"WITH named (file, entry) AS ({named}) SELECT e.made_at FROM named n LEFT JOIN main.entries e "
            "ON e.id = n.entry WHERE n.file = ? ORDER BY e.made_at, e.id",
            (file.row_id,),
        ).fetchall()
        if len(own) != 1 or own[0][0] is None:
            return False
        other = self.connection.execute(
            f"WITH named (file, entry) AS ({named}) SELECT 1 FROM main.entries e "
            "WHERE e.id NOT IN (SELECT entry FROM named WHERE entry IS NOT NULL) "
            "AND (e.asked LIKE '%import%' OR instr(e.asked, ?) OR (e.asked LIKE '%demo%' "
            f"AND abs(julianday(e.made_at) - julianday(?)) * 1440 > {_ONE_DEMO_MIN})) LIMIT 1",
            (file.name, own[0][0]),
        ).fetchone()
        return other is None

    def _held_otherwise(self, file: _KeptFile, stage: Stage, lines: Sequence[int]) -> set[int]:
        """Those of these lines, in the order of the stage, whose row is held under another id or looks changed."""
        bulk = Bulk(self.connection, note_file=file.row_id, stamp="", by=None, dry=True)
        found = set(lines_elsewhere(bulk))
        files = f"SELECT f.id, {called_file_sql('f')} FROM main.note_files f ORDER BY f.id"
        called = {row[0]: row[1] for row in self.connection.execute(files)}
        if rest := [line for line in lines if line not in found]:
            found |= same_rows(stage, bulk, called, rest).keys()
        if not found.issuperset(lines):
            known = look_for_changes(stage, bulk, file.called)
            found |= known.same.keys() | {one.line for one in known.changed}
        return found

    def _compare_left_out(self, file: _KeptFile, stage: Stage) -> None:
        """The lines that were left out, and the cells of columns that no record takes, against what is kept of them."""
        kept_now = self.connection.execute(
            "SELECT id, line, status, reason, column_name, value, raw FROM main.note_rejects "
            "WHERE note_file = ? AND reason <> ? ORDER BY line, id",
            (file.row_id, CHANGED_LATER),
        ).fetchall()
        held = {tuple(row)[1:] for row in kept_now}
        if wrong := _ids_otherwise(file, kept_now):
            self.wrong.append(
                f"{file.called}: {counted(wrong, 'line')} that it left out {'is' if wrong == 1 else 'are'} kept under "
                "another id than its line and its place make: another program changed that"
            )
        said = {(one.line, one.status, one.reason, one.column, one.value, one.raw) for one in stage.left()}
        taken = {row[0] for row in held if row[2] == LOOKS_CHANGED}
        differing = sorted({row[0] for row in said ^ held if row[0] not in taken and not any(map(_is_erased, row))})
        if differing:
            self.wrong.append(
                f"{file.called}: {counted(len(differing), 'line')} that it left out, the first being line "
                f"{differing[0]}, {'is' if len(differing) == 1 else 'are'} kept otherwise than the file has it: "
                "another program changed that"
            )
        cells = {line: text for line, text in stage.extras() if line in self._own_lines}
        for line, text in self.connection.execute(
            "SELECT line, cells FROM main.note_extras WHERE note_file = ? ORDER BY line, id", (file.row_id,)
        ).fetchall():
            kept, read = object_in(text) or {}, object_in(cells.pop(line, None)) or {}
            if any(kept.get(name) != value for name, value in read.items()) and not _is_erased(text):
                self._say_beside(file, line)
        for line in sorted(cells):
            self._say_beside(file, line)

    def _say_beside(self, file: _KeptFile, line: int) -> None:
        self.wrong.append(
            f"line {line} of {file.called}: its cells of columns that no record takes are kept otherwise than the file "
            "has them: another program changed that"
        )

    def _once_there(self, notes: Sequence[str]) -> set[str]:
        """Those of these rows of which the history has a record."""
        return {
            row_id[:-1]
            for name, digit in DIGITS.items()
            for (row_id,) in self.connection.execute(
                f"SELECT j.value || '{digit}' FROM json_each(?) j WHERE EXISTS (SELECT 1 FROM main.history h WHERE "
                f"h.table_name = ? AND h.row_id = j.value || '{digit}')",
                (json.dumps(notes), BY_NAME[name].table),
            )
        }

    def _beside(self, file: _KeptFile, line: int, records: Mapping[str, Mapping[str, Any]]) -> set[str]:
        """The cells of a row that are kept beside its records."""
        places = {(file.row_id, line), *((one["note_file"], one["note_line"]) for one in records.values())}
        return {name for where, at in places if where for name in cells_beside(self.connection, where, at)}

    def _names_of(self, target: str, row_id: str) -> frozenset[str]:
        if (target, row_id) not in self._names:
            self._names[target, row_id] = names_ever(self.connection, BY_NAME[target], row_id)
        return self._names[target, row_id]

    def _name_of(self, target: str, row_id: str) -> str:
        return names_of(self.connection, BY_NAME[target], [row_id]).get(row_id, row_id)

    def _was_ever_joined(self, target: str) -> bool:
        """Whether anything was ever said of two records of a kind: then a name may have meant what it was joined to."""
        if target not in self._joined:
            found = self.connection.execute(
                "SELECT EXISTS (SELECT 1 FROM main.joins WHERE kind = ?1) OR EXISTS (SELECT 1 FROM main.one_with "
                "WHERE kind = ?1) OR EXISTS (SELECT 1 FROM main.history WHERE table_name = 'joins')",
                (target,),
            ).fetchone()
            self._joined[target] = bool(found[0])
        return self._joined[target]

    def _say(self, file: _KeptFile, line: int, kind_name: str, column: str, held: object, said: object) -> None:
        here, there = ("nothing" if one is None else one for one in (held, said))
        self.wrong.append(
            f"the {kind_name.replace('_', ' ')} of line {line} of {file.called}: its {column} is {here}, and that line "
            f"says {there}; nobody changed it in an entry"
        )


def _ids_otherwise(file: _KeptFile, kept: Sequence[sqlite3.Row]) -> int:
    """How many lines that were left out have another id than follows from their place, in the order of lines."""
    wrong = 0
    for line, alike in groupby(enumerate(kept), key=lambda one: one[1][1]):
        places = [*alike]
        ids = {left_id(file.row_id, line, place) for place, _ in places}
        wrong += len({row[0] for _, row in places} - ids)
    return wrong


def _by_status(lines: Counter[tuple[int, str]]) -> tuple[int, int]:
    """How many lines were rejected, and how many skipped."""
    rejected, skipped = (
        sum(count for (_, of), count in lines.items() if of == status) for status in ("rejected", "skipped")
    )
    return rejected, skipped


def _in_words(rejected: int, skipped: int) -> str:
    return f"{rejected:,} rejected and {skipped:,} skipped"


def _is_erased(value: object) -> bool:
    """Whether a text is what stands in the place of one that was erased."""
    return isinstance(value, str) and ERASED in value
