"""Taking entries back: the plan, and writing it with all that follows from it."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from bevelbook.calculating.recalculate import Upkeep, depending_on, recalculate_depending
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.facts.renew import renew_touched
from bevelbook.notes.held_rows import held_by_others, move_cells_beside
from bevelbook.notes.late_builds import place_rows_of_touched_builds
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.plugin.registry import Registry
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store import entries as entry_writing
from bevelbook.store.entry_contents import EntryBook, PastEntry
from bevelbook.store.opening import transaction
from bevelbook.store.take_back import FROM_NOTES, Plan, carry_out, plan_of
from bevelbook.store.unsaid import note_unsaid
from bevelbook.store.users import Use, users_of
from bevelbook.taking_back.equal_names import equal_names
from bevelbook.taking_back.refusals import TakeBackRefusedError, does_not_fit, refused
from bevelbook.taking_back.words import came_of, entry_words, named_by_content


class TakenBack(NamedTuple):
    """An entry that was taken back: what came of it in words, and the entry that did it, None for a plan."""

    entry: PastEntry
    lines: tuple[str, ...]
    by_entry: str | None = None
    placed: PlacedAgain = PlacedAgain()


def plans_of(connection: sqlite3.Connection, entry: PastEntry, *, and_later: bool = False) -> list[Plan]:
    """What taking an entry back would write; with ``and_later`` also the later ones that stand in its way.

    Newest first. Nothing is written. Raises TakeBackRefusedError.
    """
    entries = EntryBook(connection)
    chosen = {entry.id}
    while True:
        order = sorted((entries.by_id[one] for one in chosen), key=lambda one: one.moment, reverse=True)
        plans = [_plan(entries, one, also={other.id for other in order if other.moment > one.moment}) for one in order]
        in_the_way = {
            refusal.entry
            for plan in plans
            for refusal in plan.refusals
            if refusal.entry is not None and refusal.entry in entries.by_id
        } - chosen
        if not and_later or not in_the_way:
            break
        chosen |= in_the_way
    for plan in plans:
        if plan.refusals:
            raise refused(entries, plan)
    return plans


def _plan(entries: EntryBook, entry: PastEntry, *, also: set[str] | None = None) -> Plan:
    files = [row[0] for row in entries.connection.execute("SELECT id FROM note_files WHERE entry = ?", (entry.id,))]
    held = held_by_others(entries.connection, files) if files else None
    plan = plan_of(entries, entry, held=held, also=also or ())
    plan = plan._replace(refusals=(*plan.refusals, *equal_names(entries, plan, also or ())))
    if plan.is_empty and not plan.refusals:
        raise TakeBackRefusedError(
            f"{entry_words(entry)} left nothing to take back",
            code="nothing_to_take_back",
            remedy="Nothing was changed.",
        )
    return plan


def in_words(connection: sqlite3.Connection, plan: Plan) -> TakenBack:
    """What a plan would do, in words; asked before it is carried out."""
    return TakenBack(plan.entry, (*_gone_in_words(connection, plan), *_back_in_words(connection, plan)))


def _back_in_words(connection: sqlite3.Connection, plan: Plan) -> list[str]:
    """What is as it was before; once the plan is carried out, what came back has its name again."""
    return came_of(connection, [*plan.restored, *plan.returning], backwards=True)


def _gone_in_words(connection: sqlite3.Connection, plan: Plan) -> list[str]:
    lines = came_of(connection, plan.removed, backwards=True)
    kept = [one for one in plan.moved if one.kind.name in FROM_NOTES and one.kind.name != "run_diff"]
    if kept:
        records = counted(len(kept), "record")
        has = "it has" if len(kept) == 1 else "they have"
        lines.append(f"kept {records} of these rows: another imported file has the same rows, and {has} that file now")
    return lines


class Outcome(NamedTuple):
    """What was taken back, newest first, and the kept results that were worked out again."""

    taken: tuple[TakenBack, ...]
    upkeep: Upkeep


def take_back(
    connection: sqlite3.Connection,
    path: Path,
    wanted: Sequence[PastEntry],
    registry: Registry,
    *,
    asked: str = "",
    by: str | None = None,
    reason: str | None = None,
    is_said: bool = True,
) -> Outcome:
    """Take entries back, newest first, in one transaction; each gets an entry of its own that says so. Without
    ``is_said`` it is noted that nobody knows of it yet.

    Facts, search and kept results follow, and notes are placed again. Raises TakeBackRefusedError, and changes nothing
    then, where one of them cannot be taken back.
    """
    taken: list[TakenBack] = []
    depending: dict[str, set[str]] = {}
    with transaction(connection, path, asked=asked, by=by) as last:
        for place, entry in enumerate(wanted, start=1):
            own = entry_writing.begin(connection, asked=asked, by=by)
            own.took_back, own.reason = entry.id, reason
            entries = EntryBook(connection)
            plan = _plan(entries, entries.by_id[entry.id])
            if plan.refusals:
                raise refused(entries, plan)
            gone = _gone_in_words(connection, plan)
            records = [(one.kind, one.row_id) for one in plan.records]
            _add_to(depending, depending_on(connection, registry, records))
            placed = _carry_out(connection, entries, plan, own.id, by)
            _add_to(depending, depending_on(connection, registry, records))
            lines = (*gone, *_back_in_words(connection, plan), *placed.lines())
            taken.append(TakenBack(plan.entry, lines, own.id, placed))
            if place < len(wanted):
                entry_writing.end(connection, own, keep=True)
            else:
                last.id, last.made_at, last.took_back, last.reason = own.id, own.made_at, own.took_back, own.reason
        renew_touched(connection)
        upkeep = recalculate_depending(connection, registry, depending, by)
        if not is_said:
            note_unsaid(connection, last.id)
    return Outcome(tuple(taken), upkeep)


def _add_to(all_of_them: dict[str, set[str]], some: dict[str, set[str]]) -> None:
    for name, ids in some.items():
        all_of_them.setdefault(name, set()).update(ids)


def _carry_out(
    connection: sqlite3.Connection, entries: EntryBook, plan: Plan, entry_id: str, by: str | None
) -> PlacedAgain:
    """Carry out a plan and place the note rows again that it concerns; returns what moved."""
    for file in [one.row_id for one in plan.removed if one.kind.name == "note_file"]:
        moved = {one.row_id: (one.note_file, one.note_line) for one in plan.moved if one.note_file and one.note_line}
        move_cells_beside(connection, file, moved)
    try:
        aside = carry_out(connection, plan, entry_id)
        is_of_notes = plan.moved or any(one.is_from_notes for one in plan.records)
        touched = connection.execute("SELECT diff FROM temp.touched") if is_of_notes else ()
        placed = place_rows_of_touched_builds(connection, by, also=[row[0] for row in touched], aside=aside)
    except sqlite3.IntegrityError as fault:
        raise does_not_fit(entries, plan, fault) from fault
    except InputError as fault:
        what = f"{entry_words(plan.entry)} cannot be taken back: {fault.what}"
        raise TakeBackRefusedError(what, code="take_back_refused", remedy=str(fault.remedy)) from fault
    going: dict[str, set[str]] = {}
    for touch in plan.removed:
        going.setdefault(touch.kind.table, set()).add(touch.row_id)
    for use in users_of(connection, going):
        raise TakeBackRefusedError(
            f"{entry_words(plan.entry)} cannot be taken back: "
            f"{named_by_content(connection, use.kind, use.row_id)} has no other build to go to"
            f"{_with_file(entries, use)}",
            code="take_back_refused",
            remedy="Take back that import first. Nothing was changed.",
        )
    return placed


def _with_file(entries: EntryBook, use: Use) -> str:
    """The end of a sentence that says with which file and entry a record came."""
    row = entries.connection.execute(
        f"SELECT {called_file_sql('f')}, f.entry FROM {use.kind.table} x "
        "JOIN note_files f ON f.id = x.note_file WHERE x.id = ?",
        (use.row_id,),
    ).fetchone()
    return f"; it came with {row[0]}, {entry_words(entries.by_id.get(row[1]))}" if row else ""
