"""``bevelbook take-back [ENTRY]``."""

from __future__ import annotations

import sqlite3
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, report_failed, say_if_invented
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.in_command import in_command

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from bevelbook.store.entry_contents import PastEntry
    from bevelbook.taking_back.refusals import TakeBackRefusedError
    from bevelbook.taking_back.take_back import TakenBack


@click.command("take-back")
@click.argument("named", metavar="[ENTRY]", required=False)
@click.option("--of", multiple=True, metavar="NAME", help="Take back an entry of this person; may be repeated.")
@click.option("--and-later", is_flag=True, help="Take back as well the later entries that stand in its way.")
@click.option("--yes", is_flag=True, help="With --and-later: do it without asking.")
@click.option("--dry-run", is_flag=True, help="Say what would come of it, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session, named: str | None, of: tuple[str, ...], and_later: bool, yes: bool, dry_run: bool, as_json: bool
) -> int:
    """Take back your last entry, or the one named by its number or id, whole.

    \b
    bevelbook take-back
    bevelbook take-back 12
    bevelbook take-back --of ben

    What it added is removed, what it changed is as it was before, what it removed comes back. 'bevelbook history' lists
    the entries with their numbers. A take-back is an entry too: take it back by its number to bring all back.

    It is refused where a later entry changed or uses what this one wrote; --and-later takes those back too, newest
    first, after a yes. Whoever else made one of them has to be named: take-back 12 --and-later --of ben --of cem.
    """
    from bevelbook.taking_back.refusals import TakeBackRefusedError

    try:
        return _take_back(session, named, of, and_later=and_later, yes=yes, dry_run=dry_run, as_json=as_json)
    except TakeBackRefusedError as fault:
        _say_way_out(fault, and_later, of)
        raise


def _say_way_out(fault: TakeBackRefusedError, and_later: bool, of: tuple[str, ...]) -> None:
    """Have an error name the option that leads on."""
    from bevelbook.taking_back.choosing import AnotherPersonsEntryError

    if isinstance(fault, AnotherPersonsEntryError):
        names = (*of, *fault.owners) if fault.chosen else fault.owners
        options = " ".join(f"--of {in_command(name)}" for name in names if name)
        way = f"Give {options} to take it back."
        if fault.chosen:
            way = f"To take them back too: 'bevelbook take-back {fault.chosen.number} --and-later {options}'."
        fault.remedy = f"{way} {fault.remedy or ''}".strip()
    elif fault.later and not and_later:
        fault.remedy = f"{(fault.remedy or '').removesuffix(' Nothing was changed.')} Or give --and-later, which " + (
            "shows them all and asks. Nothing was changed."
        )


def _take_back(
    session: Session,
    named: str | None,
    of: tuple[str, ...],
    *,
    and_later: bool,
    yes: bool,
    dry_run: bool,
    as_json: bool,
) -> int:
    from bevelbook.reports.what_changed import all_on_shelf, shelf_changes
    from bevelbook.store.entry_contents import EntryBook
    from bevelbook.store.opened_to_read import open_for_reading
    from bevelbook.store.sqlite_errors import in_words as faults_in_words
    from bevelbook.taking_back.choosing import chosen, refuse_unnamed
    from bevelbook.taking_back.take_back import in_words, plans_of, take_back

    connection = open_for_reading(session.path, untouched=True) if dry_run else session.open_for_writing()
    try:
        with faults_in_words(session.path):
            session.look_whether_invented(connection)
            if named is None and not dry_run and _say_unsaid(session, connection, as_json=as_json):
                return 0
            entry = chosen(EntryBook(connection), named, by=session.by, of=of)
            plans = plans_of(connection, entry, and_later=and_later)
            refuse_unnamed([plan.entry for plan in plans], entry, by=session.by, of=of)
            would = [in_words(connection, plan) for plan in plans]
            if dry_run:
                return _print(session, would, (), as_json=as_json, is_done=False)
            if len(plans) > 1 and not yes:
                _ask(would, as_json)
            before = all_on_shelf(connection)
            outcome = take_back(
                connection,
                session.path,
                [plan.entry for plan in plans],
                session.registry,
                asked=session.asked,
                by=session.by,
                is_said=named is not None,
            )
            numbers = {one.id: one.number for one in EntryBook(connection).all}
            shelf = tuple(one.line() for one in shelf_changes(connection, before))
            _print(session, outcome.taken, shelf, as_json=as_json, is_done=True, numbers=numbers)
            if named is None:
                _forget_unsaid(connection)
    finally:
        connection.close()
    return report_failed(outcome.upkeep)


def _say_unsaid(session: Session, connection: sqlite3.Connection, *, as_json: bool) -> bool:
    """Say what the same command took back before it was stopped; whether there was such, and nothing came since."""
    from bevelbook.store.entry_contents import EntryBook
    from bevelbook.store.unsaid import unsaid
    from bevelbook.taking_back.take_back import TakenBack

    entry_id = unsaid(connection)
    entries = EntryBook(connection)
    taker = entries.by_id.get(entry_id or "")
    if taker is None or taker.took_back is None or taker is not entries.all[-1]:
        return False
    if (taker.made_by or "").casefold() != (session.by or "").casefold() or taker.asked != session.asked:
        return False
    said = "It was taken back before, by the same command, which was stopped before it said so."
    taken = TakenBack(entries.by_id[taker.took_back], (said,), taker.id)
    _print(session, (taken,), (), as_json=as_json, is_done=True, numbers={taker.id: taker.number})
    _forget_unsaid(connection)
    return True


def _forget_unsaid(connection: sqlite3.Connection) -> None:
    """Note that it was said, once it is printed to the end."""
    from bevelbook.store.unsaid import forget_unsaid

    sys.stdout.flush()
    with suppress(sqlite3.Error):  # else the next one says it once more
        forget_unsaid(connection)


def _ask(would: Sequence[TakenBack], as_json: bool) -> None:
    if as_json or not sys.stdin.isatty():
        raise InputError(
            f"{len(would)} entries would be taken back",
            code="needs_yes",
            place=Place(column="--and-later"),
            remedy="Look with --dry-run first, then give --yes. Nothing was changed.",
        )
    for line in _lines(would, "Would take back"):
        print_text(line, err=True)
    click.confirm("Take them back?", abort=True, err=True)


def _lines(taken: Sequence[TakenBack], done: str) -> Iterator[str]:
    from bevelbook.display.format import wrapped
    from bevelbook.taking_back.words import entry_words, when

    for one in taken:
        yield from wrapped(f"{done} {entry_words(one.entry)}, {when(one.entry.made_at)}")
        for line in one.lines:
            yield from wrapped(line, indent="  ")


def _print(
    session: Session,
    taken: Sequence[TakenBack],
    shelf: tuple[str, ...],
    *,
    as_json: bool,
    is_done: bool,
    numbers: dict[str, int] | None = None,
) -> int:
    from bevelbook.display.format import wrapped

    numbers = numbers or {}
    if as_json:
        print_json(
            {
                "done": is_done,
                "taken_back": [
                    _entry_as_dict(one.entry)
                    | {"came_of_it": list(one.lines), "by_entry": one.by_entry, "number": one.entry.number}
                    | one.placed.as_dict()
                    for one in taken
                ],
                "shelf": list(shelf),
                **session.noticed(),
            }
        )
        return 0
    for line in _lines(taken, "Took back" if is_done else "Would take back"):
        print_text(line)
    for line in shelf:
        print_text("\n".join(wrapped(line)))
    last = numbers.get(taken[-1].by_entry or "")
    if last is not None:
        print_text(f"To bring it back: bevelbook take-back {last}")
    say_if_invented(session.invented)
    return 0


def _entry_as_dict(entry: PastEntry) -> dict[str, object]:
    return {"id": entry.id, "made_at": entry.made_at, "made_by": entry.made_by, "asked": entry.asked}
