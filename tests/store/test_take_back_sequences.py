"""Random sequences of recording, importing, correcting, removing and taking back, on invented rows.

After each step: the runs that the facts count are those that were written, every run from notes is on the build that
was its diff's current one, and facts and search follow from the records. Taking back the last entry gives equal
records and equal facts. What is made by hand is of any day, also of one between the rows of a sheet.

The suite runs a few sequences. More, with other seeds each time:

    BEVELBOOK_SEQUENCES=500 python -m pytest tests/store/test_take_back_sequences.py
"""

from __future__ import annotations

import io
import os
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from canonical import facts_dumped, records_dumped
from conftest import empty_database
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from bevelbook.declare.errors import BevelbookError
from bevelbook.entering.dated_build import AS_DRY_MASS, CLOSED_AGAIN
from bevelbook.entering.question import NO_ANSWERS, Answers
from bevelbook.entering.record import prepare, write
from bevelbook.facts.renew import stale
from bevelbook.notes.importing import import_notes
from bevelbook.notes.late_builds import place_rows_of_touched_builds
from bevelbook.notes.settings import Settings
from bevelbook.plugin.registry import load
from bevelbook.records import BY_NAME
from bevelbook.store.entry_contents import EntryBook, PastEntry
from bevelbook.store.ids import now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.searching import wrong_searches
from bevelbook.taking_back.refusals import TakeBackRefusedError
from bevelbook.taking_back.removal import removal_of, remove
from bevelbook.taking_back.take_back import plans_of, take_back

_ASKED_FOR = int(os.environ.get("BEVELBOOK_SEQUENCES", "0"))
_DIFFS = ("q1", "q2")
_PEOPLE = ("ana", "ben")
_HEADING = "date,diff,dry_mass_g,oil_mass_g,total_mass_g,fluid,runs,venue,builder"


class Row(NamedTuple):
    """A row of a sheet; ``runs`` is what it counts, 0 for one that makes none."""

    day: int
    diff: str
    cells: tuple[str, ...]
    runs: int
    is_spoilt: bool = False

    def line(self) -> str:
        """The row as text; a spoilt one has a mass that is rejected."""
        cells = ("~12", *self.cells[1:]) if self.is_spoilt else self.cells
        return ",".join((f"2026-04-{self.day:02}", self.diff, *cells))


def _row(day: int, diff: str, what: str, runs: int, is_spoilt: bool) -> Row:
    cells = {
        "fill": ("12.4", "1.8", "", "house 5k", str(runs), "Brickfield", "ana"),
        "other oil": ("", "", "", "house 7k", str(runs), "Depot", ""),
        "run": ("", "", "", "", str(runs), "Depot", "ben"),
        "weighing": ("", "", "14.1", "", "", "", ""),
    }[what]
    return Row(day, diff, cells, 0 if what == "weighing" else runs, is_spoilt and what == "fill")


_ROWS = st.builds(
    _row,
    st.integers(1, 9),
    st.sampled_from(_DIFFS),
    st.sampled_from(("fill", "other oil", "run", "run", "weighing")),
    st.integers(1, 3),
    st.booleans(),
)
_SHEETS = st.lists(_ROWS, min_size=1, max_size=5, unique_by=lambda row: (row.day, row.diff))
_DAYS = st.one_of(st.integers(1, 10).map("2026-04-{:02}".format), st.integers(1, 28).map("2026-05-{:02}".format))
"""Days of what is made by hand: among the rows of a sheet, or after them."""
_OILS = st.sampled_from(("", "", "house 5k", "house 7k"))
_BUILT = st.fixed_dictionaries({"fluid": _OILS, "mass_basis": st.sampled_from(("", "", "closed", "open half"))})
_EFFECT = tuple[str, str, Any, Any]
"""What an entry did to the model: a run made by hand or a kept file, by id, with what it was before and after."""


class Sequences(RuleBasedStateMachine):
    """A database, and beside it a model of the runs that were written by hand and of the sheets that are kept."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = TemporaryDirectory()
        self.path = empty_database(Path(self.folder.name) / "team.db")
        self.connection = open_for_writing(self.path)
        self.registry = load()
        self.by_hand: dict[str, float] = {}
        self.sheets: dict[str, frozenset[Row]] = {}
        self.rows_of: dict[str, list[Row]] = {}
        self.effects: dict[str, list[_EFFECT]] = {}
        self.before: dict[str, tuple[str, str]] = {}
        self.count = 0

    def teardown(self) -> None:
        """The search is looked at once: no act of these writes a table's search again as a whole."""
        try:
            assert not wrong_searches(self.connection)
        finally:
            self.connection.close()
            self.folder.cleanup()

    def dumped(self) -> tuple[str, str]:
        return records_dumped(self.connection), facts_dumped(self.connection)

    def last_entry(self) -> PastEntry | None:
        entries = EntryBook(self.connection).all
        return entries[-1] if entries else None

    def note(self, before: tuple[str, str], effects: list[_EFFECT]) -> None:
        """Note the entry that was just written, if there is a new one."""
        last = self.last_entry()
        if last is not None and last.id not in self.before:
            self.before[last.id] = before
            self.effects[last.id] = effects
            for kind, key, _, after in effects:
                self.set_model(kind, key, after)
        else:
            assert self.dumped() == before

    def set_model(self, kind: str, key: str, value: Any) -> None:
        model: dict[str, Any] = self.by_hand if kind == "run" else self.sheets
        if value is None:
            model.pop(key, None)
        else:
            model[key] = value

    def record(
        self, by: str, kind_name: str, name: str | None = None, answers: Answers = NO_ANSWERS, **texts: str
    ) -> str | None:
        """Record as the command does; the id, or None where it is refused or asked about."""
        kind = BY_NAME[kind_name]
        try:
            with transaction(self.connection, self.path, asked=f"record {kind_name} {texts}", by=by):
                given = {field: text for field, text in texts.items() if text}
                entry = prepare(self.connection, kind, name, given, answers)
                written = write(self.connection, entry, by, now_utc)
                place_rows_of_touched_builds(self.connection, by, aside=written.aside)
                return written.row_id if entry.kind is kind else None
        except BevelbookError:
            return None

    @initialize(rows=st.one_of(st.just([]), _SHEETS, _SHEETS))
    def diffs_are_there(self, rows: list[Row]) -> None:
        """And mostly a sheet, so that what is made by hand comes between its rows."""
        before = self.dumped()
        for diff in _DIFFS:
            self.record("ana", "diff", label=diff)
            self.note(before, [])
            before = self.dumped()
        if rows:
            self.bring_in(rows, "ana", "a.csv")

    @rule(diff=st.sampled_from(_DIFFS), by=st.sampled_from(_PEOPLE), day=_DAYS, more=_BUILT)
    def a_build_is_recorded(self, diff: str, by: str, day: str, more: dict[str, str]) -> None:
        before = self.dumped()
        self.record(by, "build", diff=diff, built_on=day, dry_mass_g="12.4", oil_mass_g="1.86", **more)
        self.note(before, [])

    @rule(data=st.data(), by=st.sampled_from(_PEOPLE), day=st.one_of(st.just(""), _DAYS), more=_BUILT)
    def a_build_is_changed(self, data: st.DataObject, by: str, day: str, more: dict[str, str]) -> None:
        """Also one from notes, of which a person then has set a field."""
        if builds := self.all_of("builds"):
            before = self.dumped()
            self.record(by, "build", data.draw(st.sampled_from(builds)), built_on=day, **more)
            self.note(before, [])

    @rule(data=st.data(), by=st.sampled_from(_PEOPLE), diff=st.sampled_from(_DIFFS))
    def a_build_was_of_another_diff(self, data: st.DataObject, by: str, diff: str) -> None:
        """One made by hand: the row that made one from notes would go with it."""
        if builds := self.all_of("builds", "note_file IS NULL"):
            before = self.dumped()
            self.record(by, "build", data.draw(st.sampled_from(builds)), diff=diff)
            self.note(before, [])

    @rule(data=st.data(), by=st.sampled_from(_PEOPLE))
    def a_build_is_removed(self, data: st.DataObject, by: str) -> None:
        if builds := self.all_of("builds"):
            self.remove(by, "build", data.draw(st.sampled_from(builds)), [])

    @rule(
        diff=st.sampled_from(_DIFFS),
        by=st.sampled_from(_PEOPLE),
        day=_DAYS,
        runs=st.integers(1, 4),
        was_closed=st.booleans(),
    )
    def a_run_is_recorded(self, diff: str, by: str, day: str, runs: int, was_closed: bool) -> None:
        before = self.dumped()
        answers = Answers(for_all=frozenset({CLOSED_AGAIN})) if was_closed else NO_ANSWERS
        row_id = self.record(by, "run", None, answers, run_on=day, rear=diff, runs=str(runs))
        self.note(before, [("run", row_id, None, float(runs))] if row_id else [])

    @rule(
        diff=st.sampled_from(_DIFFS),
        by=st.sampled_from(_PEOPLE),
        day=_DAYS,
        answer=st.sampled_from((CLOSED_AGAIN, AS_DRY_MASS, "")),
    )
    def a_weighing_is_recorded(self, diff: str, by: str, day: str, answer: str) -> None:
        before = self.dumped()
        answers = Answers(for_all=frozenset({answer})) if answer else NO_ANSWERS
        self.record(by, "weighing", None, answers, build=diff, weighed_on=day, mass_g="14.2", mass_basis="open half")
        self.note(before, [])

    @rule(data=st.data(), by=st.sampled_from(_PEOPLE))
    def a_weighing_or_an_opening_is_removed(self, data: st.DataObject, by: str) -> None:
        """By hand ones only: the rows of the sheets are those of the model."""
        kind = data.draw(st.sampled_from(("weighing", "opening")))
        if rows := self.all_of(f"{kind}s", "note_file IS NULL"):
            self.remove(by, kind, data.draw(st.sampled_from(rows)), [])

    @rule(diff=st.sampled_from(_DIFFS), by=st.sampled_from(_PEOPLE), day=_DAYS)
    def a_build_is_opened(self, diff: str, by: str, day: str) -> None:
        before = self.dumped()
        self.record(by, "opening", build=diff, opened_on=day, reason="routine")
        self.note(before, [])

    def all_of(self, table: str, where: str = "1") -> list[str]:
        return [row[0] for row in self.connection.execute(f"SELECT id FROM {table} WHERE {where} ORDER BY id")]

    @precondition(lambda self: self.by_hand)
    @rule(data=st.data(), by=st.sampled_from(_PEOPLE), runs=st.integers(1, 6))
    def a_run_is_corrected(self, data: st.DataObject, by: str, runs: int) -> None:
        before = self.dumped()
        run = data.draw(st.sampled_from(sorted(self.by_hand)))
        self.record(by, "run", run, runs=str(runs))
        self.note(before, [("run", run, self.by_hand[run], float(runs))])

    @rule(rows=_SHEETS, by=st.sampled_from(_PEOPLE), name=st.sampled_from(("a.csv", "b.csv", "c.csv")))
    def a_sheet_is_imported(self, rows: list[Row], by: str, name: str) -> None:
        self.bring_in(rows, by, name)

    @precondition(lambda self: self.sheets)
    @rule(data=st.data(), more=_SHEETS, by=st.sampled_from(_PEOPLE))
    def a_sheet_has_grown(self, data: st.DataObject, more: list[Row], by: str) -> None:
        rows = sorted(self.sheets[data.draw(st.sampled_from(sorted(self.sheets)))])
        there = {(row.day, row.diff) for row in rows}
        self.bring_in([*rows, *(row for row in more if (row.day, row.diff) not in there)], by, "a.csv")

    @precondition(lambda self: self.open_rejects())
    @rule(data=st.data(), by=st.sampled_from(_PEOPLE))
    def rejects_are_corrected(self, data: st.DataObject, by: str) -> None:
        rejects = self.open_rejects()
        file = data.draw(st.sampled_from(sorted(rejects)))
        rows = [(line, self.rows_of[file][line - 2]._replace(is_spoilt=False)) for line in rejects[file]]
        (name,) = self.connection.execute("SELECT name FROM note_files WHERE id = ?", (file,)).fetchone()
        self.bring_in([row for _, row in rows], by, name.replace(".csv", ".rejected.csv"), [line for line, _ in rows])

    def open_rejects(self) -> dict[str, list[int]]:
        """The lines that wait to be corrected, by file."""
        found: dict[str, list[int]] = {}
        for file, line in self.connection.execute(
            "SELECT note_file, line FROM note_rejects WHERE status = 'rejected' AND closed_by IS NULL ORDER BY line"
        ):
            if self.rows_of[file][line - 2].is_spoilt:
                found.setdefault(file, []).append(line)
        return found

    def bring_in(self, rows: list[Row], by: str, name: str, of_lines: list[int] | None = None) -> None:
        before = self.dumped()
        more = [f",{line},not a number,dry_mass_g" for line in of_lines] if of_lines else [""] * len(rows)
        heading = f"{_HEADING},line,reason,column" if of_lines else _HEADING
        text = "\n".join((heading, *(row.line() + end for row, end in zip(rows, more, strict=True)), ""))
        report = import_notes(
            io.BytesIO(text.encode()), name, self.connection, self.path, Settings(today="2026-06-01"), by=by
        )
        file = str(report.note_file)
        self.rows_of[file] = rows
        left = {row[0] for row in self.connection.execute("SELECT line FROM note_rejects WHERE note_file = ?", (file,))}
        taken = frozenset(row for line, row in enumerate(rows, start=2) if line not in left)
        self.note(before, [("sheet", file, self.sheets.get(file), taken)])

    @precondition(lambda self: self.by_hand)
    @rule(data=st.data(), by=st.sampled_from(_PEOPLE))
    def a_run_is_removed(self, data: st.DataObject, by: str) -> None:
        run = data.draw(st.sampled_from(sorted(self.by_hand)))
        self.remove(by, "run", run, [("run", run, self.by_hand[run], None)])

    def remove(self, by: str, kind: str, row_id: str, effects: list[_EFFECT]) -> None:
        """Remove as the command does, where nothing uses the record."""
        before = self.dumped()
        try:
            with transaction(self.connection, self.path, asked=f"record {kind} --remove", by=by) as entry:
                entry.reason = "a slip"
                remove(self.connection, removal_of(self.connection, BY_NAME[kind], row_id), by)
        except BevelbookError:
            assert self.dumped() == before
            return
        self.note(before, effects)

    @rule()
    def the_last_entry_is_taken_back(self) -> None:
        last = self.last_entry()
        if last is None or last.asked.startswith("record diff"):
            return
        before = self.dumped()
        assert self.taken_back(last, before)
        assert self.dumped() == self.before[last.id]

    @rule(data=st.data())
    def any_entry_is_taken_back(self, data: st.DataObject) -> None:
        open_ones = [one for one in EntryBook(self.connection).all if one.taken_back_by is None]
        if open_ones:
            self.taken_back(data.draw(st.sampled_from(open_ones)), self.dumped())

    def taken_back(self, entry: PastEntry, before: tuple[str, str]) -> bool:
        try:
            plans_of(self.connection, entry)
            take_back(self.connection, self.path, [entry], self.registry, asked="take-back", by=entry.made_by)
        except TakeBackRefusedError:
            assert self.dumped() == before
            return False
        self.note(before, [(kind, key, after, was) for kind, key, was, after in self.effects[entry.id]])
        return True

    @invariant()
    def runs_counted_are_runs_written(self) -> None:
        rows = frozenset().union(*self.sheets.values()) if self.sheets else frozenset()
        for diff in _DIFFS:
            counted = self.connection.execute(
                "SELECT coalesce(sum(f.runs), 0) FROM build_facts f JOIN diffs d ON d.id = f.diff WHERE d.label = ?",
                (diff,),
            ).fetchone()[0]
            hand = self.connection.execute(
                "SELECT x.run FROM run_diffs x JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff "
                "WHERE d.label = ? AND x.note_file IS NULL",
                (diff,),
            )
            written = sum(self.by_hand[row[0]] for row in hand)
            assert counted == written + sum(row.runs for row in rows if row.diff == diff)
        assert self.connection.execute("SELECT count(*) FROM runs WHERE note_file IS NULL").fetchone()[0] == len(
            self.by_hand
        )

    @invariant()
    def every_run_from_notes_is_on_the_build_of_its_day(self) -> None:
        builds = self.connection.execute("SELECT id, diff, built_on FROM builds ORDER BY built_on").fetchall()
        for run_on, build in self.connection.execute(
            "SELECT r.run_on, x.build FROM run_diffs x JOIN runs r ON r.id = x.run WHERE x.note_file IS NOT NULL"
        ):
            (diff, built_on) = next((row[1], row[2]) for row in builds if row[0] == build)
            assert built_on <= run_on
            assert not [row[0] for row in builds if row[1] == diff and built_on < row[2] < run_on]

    @invariant()
    def facts_follow(self) -> None:
        assert not any(stale(self.connection).values())

    @invariant()
    def nothing_points_to_what_is_gone(self) -> None:
        assert self.connection.execute("PRAGMA foreign_key_check").fetchall() == []


Sequences.TestCase.settings = settings(
    max_examples=_ASKED_FOR or 12,
    stateful_step_count=12,
    deadline=None,
    derandomize=not _ASKED_FOR,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
TestSequences = Sequences.TestCase
