"""The lines of a run sheet as they are typed from paper: one run a line, each stored by itself."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.card.run_sheet import RUNS_ON_A_SHEET, SheetColumn, SheetLine, blank_run_sheet, run_sheet_of
from bevelbook.declare.errors import BevelbookError, InputError
from bevelbook.entering.run_places import NAMES, column_of, in_run
from bevelbook.entering.ticked_words import refuse_nothing_beside_something
from bevelbook.entering.typed_fields import typed_fields
from bevelbook.facts.day_order import first_run_first
from bevelbook.records import BY_NAME
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.ids import new_id
from bevelbook.web.entry.clashes import changed_texts
from bevelbook.web.entry.entry_fields import EntryField, entry_field
from bevelbook.web.entry.likely_records import likely_records
from bevelbook.web.entry.record_form import RecordForm, stored_texts, version_of
from bevelbook.web.entry.record_sent import VERSION, WAS, OldFormError, RecordSent, record_sent
from bevelbook.web.entry.request import KEY, EntryRequest
from bevelbook.web.entry.run_head import run_head
from bevelbook.web.entry.run_sent import TICKED, seconds_of
from bevelbook.web.entry.runs_meanwhile import MEANWHILE, ask_about_meanwhile, chosen_run, meanwhile_of
from bevelbook.web.entry.sent import ANOTHER, Saver, Stopped, send
from bevelbook.web.entry.stops import Stop, WayOut, stopped_by
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.typed_form import TypedForm

RUN: Final = BY_NAME["run"]
RUN_ID: Final = "run"
"""The hidden field of a line with the id of the run that it is, empty for a new one."""
HEAD: Final = "head."
"""Begins the names of what is written once for the day."""
OF_THE_DAY: Final = ("venue", "driver", "event")
MOST_LINES: Final = 60
_FIELDS: Final = {field.name: field for field in typed_fields(RUN)}
_BY_COLUMN: Final = {".".join(column_of(name)): name for name in NAMES}
_RUNS: Final = f"""
SELECT r.id, r.label FROM runs r WHERE r.run_on = ?1 AND (?2 IS NULL OR r.car = ?2 OR r.car IS NULL)
ORDER BY {first_run_first()}, r.rowid, r.id
"""
_SECONDS: Final = 60.0


class StoredBeforeError(InputError):
    """A line was stored before with other texts than it has now."""

    def __init__(self, label: str) -> None:
        super().__init__(
            f"this line is stored already as run {label}, with other values",
            code="written_already",
            remedy="What you typed is in it: store it again to correct that run.",
        )


class SheetCell(NamedTuple):
    """One input of a line: its field, under a name with the number of the line; the field's own name, what it is called
    in its column, its words to choose from as value and word, and what is printed in place of all that."""

    field: EntryField
    name: str
    words: str
    choices: tuple[tuple[str, str], ...] = ()
    instead: str = ""


class SheetRow(NamedTuple):
    """One line: its number, the run that it is, the cells of each column, why it was not stored, and what it sends
    unseen."""

    number: int
    run: str
    label: str
    columns: tuple[tuple[SheetCell, ...], ...]
    stop: Stop
    unseen: tuple[tuple[str, str], ...]
    homeless: tuple[tuple[str, str], ...] = ()
    """What was typed in cells that the sheet no longer has, by their names."""

    @property
    def cells(self) -> list[SheetCell]:
        return [cell for column in self.columns for cell in column]

    @property
    def faulty(self) -> list[EntryField]:
        """The inputs that need a look."""
        return [cell.field for cell in self.cells if cell.field.is_stopped]

    @property
    def is_stopped(self) -> bool:
        """Whether it was not stored."""
        return bool(self.faulty or self.stop.sentence or self.stop.ways)


class TypedSheet(NamedTuple):
    """The sheet of a car on a day: the head, with the diffs, the columns as they are printed, and
    the lines."""

    day: str
    car: str
    cars: tuple[str, ...]
    head: tuple[EntryField, ...]
    columns: tuple[SheetColumn, ...]
    rows: tuple[SheetRow, ...]


class LineSent(NamedTuple):
    """A line as it was sent: its number, the run that it is, its own form, and its texts."""

    number: int
    run: str
    form: TypedForm
    sent: RecordSent

    @property
    def changes(self) -> dict[str, str]:
        """The texts that differ from those with which the line was drawn; times after the run in seconds."""
        typed = {name: _as_seconds(name, text) for name, text in self.sent.changes.items()}
        return {name: text for name, text in typed.items() if text.strip() != self.sent.was.get(name, "").strip()}


class LineDone(NamedTuple):
    """What became of a line that was sent: the entry that stored it, or why it was not stored."""

    line: LineSent
    entry: str | None = None
    fault: BevelbookError | None = None


def name_of(line: SheetLine) -> str:
    """The field of a run that a line of the printed sheet takes: ``rear.diff_temp_c`` is ``rear_temp_c``."""
    return _BY_COLUMN.get(line.field, line.field)


SHEET_FIELDS: Final = tuple(
    _FIELDS[name_of(line)] for column in blank_run_sheet().sheets[0].columns for line in column.lines
)
"""The fields of the sheet in the order of its columns."""


def lines_sent(form: TypedForm) -> list[LineSent]:
    """The lines of the form in their order."""
    by_number: dict[int, dict[str, Sequence[str]]] = {}
    for name, texts in form.texts.items():
        start, dot, own_name = name.partition(".")
        if dot and start.isdecimal() and len(start) <= len(str(MOST_LINES)) and 1 <= int(start) <= MOST_LINES:
            by_number.setdefault(int(start), {})[own_name] = texts
    found = []
    for number, of_line in sorted(by_number.items()):
        own = TypedForm({**of_line, ANOTHER: [_ANOTHER_LINE]})
        found.append(LineSent(number, own.text(RUN_ID), own, record_sent(own, SHEET_FIELDS)))
    return found


async def store_lines(asked: EntryRequest, lines: Sequence[LineSent], day: str, car: str) -> list[LineDone]:
    """Store every line that says something new, each as an entry of its own; the others are left alone."""
    head = {name: text for name, text in asked.form.after(HEAD).items() if text.strip()}
    done = []
    drawn = await asked.page.ask(drawn_runs, lines)
    for place, line in enumerate(one for one in lines if one.changes or one.sent.is_old):
        if line.sent.is_old or not line.form.text(KEY):
            done.append(LineDone(line, fault=OldFormError()))
            continue
        line = await asked.page.ask(_as_the_same_run, line)
        if not line.changes:
            continue
        own = asked._replace(form=line.form)
        wanted = _Line(line, {**head, "run_on": day, "car": car}, drawn, place)
        kept = await send(own, wanted.store, words=_WORDS)
        if isinstance(kept, Stopped):
            done.append(LineDone(line, fault=kept.fault))
        elif not kept.known and kept.value is None:
            continue
        elif kept.known and (label := await asked.page.ask(_differs, kept.entry, line)) is not None:
            done.append(LineDone(line, fault=StoredBeforeError(label)))
        else:
            done.append(LineDone(line, kept.entry))
            drawn |= {kept.value} if kept.value else set()
    return done


_ANOTHER_LINE: Final = "a line is a run, also one like the line before"
_WORDS: Final = "from the browser: a line of the run sheet"


class _Line(NamedTuple):
    """A line with what every line of its day has, the runs that are lines of the same sheet, and its place among the
    lines that say something new."""

    line: LineSent
    head: Mapping[str, str]
    drawn: set[str]
    place: int

    def store(self, saver: Saver) -> str | None:
        """A new run, or the changes of the one that the line is; returns its id, or None where nothing had to be
        changed."""
        texts = self.line.changes
        for name, ticked in TICKED.items():
            refuse_nothing_beside_something(name, texts.get(name, ""), ticked)
        if self.line.run:
            changes = changed_texts(saver.connection, RUN, self.line.run, texts, self._was)
            return saver.save("run", changes, self.line.run).row_id if changes else None
        given = {name: text for name, text in {**self.head, **texts}.items() if text.strip()}
        known = run_head(saver.connection, given)
        ask_about_meanwhile(saver.connection, self.line.form, known.day, known.car, self.drawn, self.place)
        taken, why = known.taken_over(given)
        diffs = {name: text for name, text in taken.items() if name in NAMES}
        return saver.save("run", {**diffs, **given}, taken={name: why[name] for name in diffs}).row_id

    @property
    def _was(self) -> dict[str, str]:
        """The texts that the line was drawn with; an empty cell has none."""
        return {name: self.line.sent.was.get(name, "") for name in self.line.changes}


def _differs(connection: sqlite3.Connection, entry: str, line: LineSent) -> str | None:
    """The label of the run that an entry stored, if it has not all that a line says; else None."""
    run = run_of_entry(connection, entry)
    if run is None:
        return None
    texts = stored_texts(connection, RUN, run)
    return texts["label"] if any(texts.get(name, "") != text.strip() for name, text in line.changes.items()) else None


def drawn_runs(connection: sqlite3.Connection, lines: Sequence[LineSent]) -> set[str]:
    """The runs that lines of a sheet are: those that it was drawn with, and those that it has stored before."""
    keys = [line.form.text(KEY) for line in lines]
    there = f"SELECT id FROM entries WHERE id IN ({', '.join('?' * len(keys))}) ORDER BY id"
    stored = (run_of_entry(connection, entry) for (entry,) in connection.execute(there, keys).fetchall())
    return {line.run for line in lines if line.run} | {run for run in stored if run}


def _as_the_same_run(connection: sqlite3.Connection, line: LineSent) -> LineSent:
    """The line as that of the run that a person chose for it; any other line as it is."""
    run = chosen_run(line.form)
    if line.run or run is None:
        return line
    stored = stored_texts(connection, RUN, run)
    was = {**stored, **dict.fromkeys(line.changes, "")}
    return line._replace(run=run, sent=line.sent._replace(was=was, unseen=()))


def run_of_entry(connection: sqlite3.Connection, entry_id: str) -> str | None:
    """The run that an entry wrote; None where it wrote none, or none that is there."""
    entries = EntryBook(connection)
    entry = entries.by_id.get(entry_id)
    touched = [] if entry is None else [one.row_id for one in entries.contents_of(entry) if one.kind is RUN]
    there = (run for run in touched if connection.execute("SELECT 1 FROM runs WHERE id = ?", (run,)).fetchone())
    return next(there, None)


def sheet_of(
    connection: sqlite3.Connection,
    day: str,
    car: str,
    head: Mapping[str, str],
    done: Sequence[LineDone] = (),
) -> TypedSheet:
    """The sheet of a car (by name, empty for none known) on a day, with the lines that could not be stored as typed."""
    known = run_head(connection, {"run_on": day, "car": car})
    printed = run_sheet_of(connection, known.car) if known.car else run_sheet_of(connection)
    places = {*known.places, *_places_of_day(connection, day, known.car)}
    columns = tuple(_with_places(column, places) for column in printed.sheets[0].columns)
    stopped = [one for one in done if one.fault is not None]
    by_run = {_run_of(connection, one): one for one in stopped}
    stored = connection.execute(_RUNS, (day, known.car)).fetchall()
    rows: list[SheetRow] = []
    for run, label in stored:
        rows.append(_row(connection, len(rows) + 1, columns, run, label, by_run.get(run)))
    there = {run for run, _ in stored}
    for one in stopped:
        if _run_of(connection, one) not in there:
            rows.append(_row(connection, len(rows) + 1, columns, "", "", one))
    while len(rows) < RUNS_ON_A_SHEET or rows[-1].run or rows[-1].is_stopped:
        rows.append(_row(connection, len(rows) + 1, columns, "", "", None))
    faults = {one.fault.place.field: fault_words(one.fault) for one in stopped if one.fault is not None}
    fields = tuple(
        _head_field(connection, name, known.offered, head)._replace(fault=faults.get(name, ""))
        for name in (*OF_THE_DAY, *known.places)
    )
    return TypedSheet(day, known.car_name, tuple(known.cars.values()), fields, columns, tuple(rows))


def _places_of_day(connection: sqlite3.Connection, day: str, car: str | None) -> set[str]:
    """The places of the day's runs that have a diff."""
    runs = [run for run, _ in connection.execute(_RUNS, (day, car))]
    return {one.position for run in runs for one in in_run(connection, run) if one.position}


def _with_places(column: SheetColumn, places: set[str]) -> SheetColumn:
    """A column without the lines of places that have no diff."""
    return column._replace(
        lines=tuple(line for line in column.lines if "." not in line.field or line.field.partition(".")[0] in places)
    )


def _run_of(connection: sqlite3.Connection, one: LineDone) -> str:
    """The run of a line that was not stored; of one that was stored before, the one that it made then."""
    if one.line.run:
        return one.line.run
    known = run_of_entry(connection, one.line.form.text(KEY)) if isinstance(one.fault, StoredBeforeError) else None
    return known or ""


def _head_field(
    connection: sqlite3.Connection, name: str, offered: Mapping[str, tuple[str, str]], typed: Mapping[str, str]
) -> EntryField:
    """What is written once for the day, as it was on the day's last run where nothing is typed; the diffs stay as they
    are in the car, or were in the run before, where none is typed."""
    field = _FIELDS[name]
    names = likely_records(connection, RUN, field) if field.kind == "reference" else ()
    text, origin = offered.get(name, ("", ""))
    drawn = entry_field(field, typed=typed.get(name, text if name in OF_THE_DAY else ""))
    is_diff = name not in OF_THE_DAY
    return drawn._replace(
        name=f"{HEAD}{name}",
        drawn="list",
        choices=tuple((one, one) for one in names),
        about="",
        greyed=text if is_diff else "",
        origin=f"left empty it is {text}, {origin}" if is_diff and text else "",
    )


def _row(
    connection: sqlite3.Connection,
    number: int,
    columns: Sequence[SheetColumn],
    run: str,
    label: str,
    stopped: LineDone | None,
) -> SheetRow:
    """A line as it is stored, or as it was typed where that could not be stored."""
    stored = stored_texts(connection, RUN, run) if run else {}
    typed, was, key, sent = stored, stored, new_id(), None
    if stopped is not None:
        sent = stopped.line.sent
        typed = stored | {name: _as_seconds(name, text) for name, text in sent.changes.items()}
        was = dict(sent.was) if stopped.line.run else stored
        if not isinstance(stopped.fault, StoredBeforeError) and stopped.line.run in ("", run):
            key = stopped.line.form.text(KEY) or key
    form, stop = _form_of_line(connection, typed, was if run else None, stopped.fault if stopped else None)
    cells = {
        one.name: one._replace(name=f"{number}.{one.name}", typed=_as_minutes(one.name, one.typed))
        for one in form.fields
    }
    drawn = [(f"{WAS}{one.name}", one.was) for one in form.fields if one.was is not None]
    unseen = [(KEY, key), (RUN_ID, run), (VERSION, form.version), *drawn, *(sent.unseen if sent else ())]
    unseen += [(MEANWHILE, text) for text in [meanwhile_of(stopped.fault)] if text] if stopped else []
    is_old = stopped is not None and isinstance(stopped.fault, OldFormError)
    homeless = sent.homeless.items() if sent is not None and is_old else ()
    return SheetRow(
        number,
        run,
        label,
        tuple(tuple(_cell(one, cells) for one in column.lines) for column in columns),
        stop._replace(ways=tuple(WayOut(f"{number}.{way.name}", way.value, way.words) for way in stop.ways)),
        tuple((f"{number}.{name}", text) for name, text in unseen),
        tuple((name, text) for name, text in homeless if name != RUN_ID),
    )


def _form_of_line(
    connection: sqlite3.Connection,
    typed: Mapping[str, str],
    was: Mapping[str, str] | None,
    fault: BevelbookError | None,
) -> tuple[RecordForm, Stop]:
    """The fields of a line with these texts, and what stopped it; ``was`` is None for a run that is not stored."""
    fields = tuple(
        entry_field(field, typed=typed.get(field.name, ""), was=None if was is None else was.get(field.name, ""))
        for field in SHEET_FIELDS
    )
    form, stop = RecordForm(RUN, fields, None, version_of(SHEET_FIELDS)), Stop()
    if fault is None:
        return form, stop
    form, stop = stopped_by(connection, form, fault, typed)
    if not form.stopped and not stop.sentence:
        stop = stop._replace(sentence=fault_words(fault))
    return form, stop


def _cell(line: SheetLine, fields: Mapping[str, EntryField]) -> SheetCell:
    name = name_of(line)
    choices = tuple((word.removeprefix("+"), word) for word in line.choices)
    place, dot, _ = line.field.partition(".")
    return SheetCell(fields[name], name, line.name or (place if dot else fields[name].words), choices, line.instead)


def _as_seconds(name: str, text: str) -> str:
    """A time after the run, typed in minutes, for its field; of any other field the text as it is."""
    return seconds_of(text) if name.endswith("_after_s") and "." not in name else text


def _as_minutes(name: str, text: str) -> str:
    """The same back, for the cell.

    >>> _as_minutes("rear_after_s", "120"), _as_minutes("rear_after_s", "soon"), _as_minutes("note", "120")
    ('2', 'soon', '120')
    """
    if not name.endswith("_after_s"):
        return text
    try:
        return f"{float(text) / _SECONDS:g}"
    except ValueError:
        return text
