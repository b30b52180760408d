"""``bevelbook check [DIFF]``."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_json, print_text, say_beside, say_if_invented
from bevelbook.cli.session import Session
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import DatabaseError, InputError
from bevelbook.display.begun import begun

if TYPE_CHECKING:
    from bevelbook.reports.check import Checked


_SAID_FROM_BYTES: Final = 20_000_000
"""From this size of the file on it is said what is being looked at."""


@click.command("check")
@click.argument("diff", required=False)
@click.option("--past", is_flag=True, help="List what is about the past as well: builds that ended, old notes.")
@click.option("--put-by", nargs=2, metavar="NAME REASON", help="Put a finding by until what it says changes.")
@click.option("--put-by-list", is_flag=True, help="List what was put by as well, with the reasons.")
@click.option("--rebuild", is_flag=True, help="First work out again what does not follow from the records.")
@click.option("--accept", is_flag=True, help="First accept what other programs changed.")
@click.option("--place", is_flag=True, help="First place notes of two laptops in order, also where that makes a build.")
@click.option("--deep", is_flag=True, help="Prove what can be proved of the file itself; nothing is written.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    diff: str | None,
    past: bool,
    put_by: tuple[str, str] | None,
    put_by_list: bool,
    rebuild: bool,
    accept: bool,
    place: bool,
    deep: bool,
    as_json: bool,
) -> None:
    """Report what is worth a look: lost oil, masses that do not agree, worn seals, unsure oils.

    What is due before the next time out comes first, the most urgent first: rebuild a diff, change its oil, look at it,
    weigh it, or unclear with what settles it; then the diffs that may stay. Then by diff, worst first, what was found,
    each finding with its name and what to do, with the runs left; the order of the bottles, and the ideas still to try.
    What is about builds that have ended and about old notes is counted, and --past lists it. With DIFF only what is
    about that one, and the runs of its parts too.

    Of more than 3,000 builds it looks at the newest 5 of each diff, and --past at all of them.

    --put-by "rear-a/9 dry mass changed" "new lid" lets a finding rest: it is only counted, until its words or numbers
    change, or until you take that back: record put-by "rear-a/9 dry mass changed" --remove "not so". A STOP for a diff
    in use is shown all the same.

    A record that was changed in two places before they came together is in clash: each version has a number, with who
    wrote it, and the command beside it says which holds.

    Ends with exit code 1 where anything was found, about the past too, that was not put by; and where a check of a
    plugin failed: what that would have found is not there, and the plugin is named.

    Below it stands whether the database ran since its last backup, and whether others can read it: no findings, both.

    What is kept of each diff (its runs, its oil, what it lost) and the search are compared with the records. Where they
    differ, the check says so, and --rebuild makes them again. No record is changed but by --put-by, --accept and
    --place. The last places rows of notes that came together in a merge as an import would have: one of them may become
    a build by it, or stop being one; it is an entry, and 'bevelbook history' says what came of it.

    --deep is about the file alone, not about the diffs: its pages, tables, values, references, past versions, what
    follows from the records, search, files and kept results. It says how much it looked at; what it could not look at
    is named, with exit code 1. 'bevelbook help backup' says what that proves.
    """
    if deep and (diff or past or put_by or put_by_list):
        raise click.UsageError("--deep is about the whole file: leave the diff, --past and --put-by out.")
    from bevelbook.backup.keeping import keeping_notes
    from bevelbook.reports.check import check
    from bevelbook.store.numbered_days_mark import numbered_up_to, numbered_words
    from bevelbook.web.pairing.settings_folder import settings_folder

    if rebuild or accept:
        _repair(session, rebuild=rebuild, accept=accept)
    if place:
        _place(session)
    if put_by:
        _put_by(session, *put_by, as_json=as_json)
        return
    if deep:
        _deep(session, as_json=as_json)
        return
    with session.reading() as connection:
        report = check(connection, session.registry, diff, recheck_facts=True, past=past)
        numbered = numbered_up_to(connection)
        keeping = [] if diff else list(keeping_notes(connection, session.path, settings_folder()))
    if as_json:
        of_file = {"keeping": [one.as_dict() for one in keeping], "days_numbered_up_to": numbered}
        print_json({"invented": session.invented} | report.as_dict() | of_file | session.noticed())
    else:
        _print(report, past=past, put_by_list=put_by_list)
        for note in keeping:
            print_text(note.line)
        if numbered:
            print_text(numbered_words(numbered))
        say_if_invented(session.invented)
    for failure in report.left_out:
        print_text(f"bevelbook: {failure}", err=True)
    if report.findings or report.faults or report.left_out or report.clashes:
        click.get_current_context().exit(1)


def _deep(session: Session, *, as_json: bool) -> None:
    """Look at all that can be proved of the file, and say what was looked at and what was found."""
    from bevelbook.reports.proof import prove
    from bevelbook.store.opened_to_read import open_as_it_is

    registry = session.registry
    session.say_if_it_waits()
    connection = open_as_it_is(session.path)
    is_long = session.path.stat().st_size > _SAID_FROM_BYTES
    try:
        with suppress(sqlite3.Error, DatabaseError):  # what cannot be asked there is a finding below
            session.look_whether_invented(connection)
        proof = prove(
            connection,
            session.path,
            registry,
            tell=lambda what: say_beside(f"bevelbook: looking at {what} ...") if is_long else None,
        )
    finally:
        connection.close()
    if as_json:
        print_json({"invented": session.invented} | proof.as_dict() | session.noticed())
    else:
        for line in proof.lines():
            print_text(line)
        print_text(proof.summary())
        say_if_invented(session.invented)
    if not proof.is_in_order:
        click.get_current_context().exit(1)


def _print(report: Checked, *, past: bool, put_by_list: bool) -> None:
    for line in report.lines():
        print_text(line)
    for line in report.lines_of_past() if past else ():
        print_text(line)
    for line in report.lines_of_resting() if put_by_list else ():
        print_text(line)
    print_text(report.summary())
    if report.passed_over:
        print_text(report.passed_over_in_words())
    if report.past:
        print_text(f"{report.past_in_words()}{'' if past else ' (--past lists them)'}.")
    if report.resting:
        print_text(f"{report.resting_in_words()}{'' if put_by_list else ' (--put-by-list lists them)'}.")


def _put_by(session: Session, name: str, reason: str, *, as_json: bool) -> None:
    """Let one finding rest, and say which."""
    from bevelbook.display.format import wrapped
    from bevelbook.entering.putting_by import put_by
    from bevelbook.reports.check import check
    from bevelbook.store.ids import now_utc

    if not reason.strip():
        raise InputError("a finding is put by with a reason", code="missing_input", remedy="Say why it may rest.")
    with session.writing() as connection:
        finding = check(connection, session.registry, past=True).named(name)
        put_by(connection, finding.finding, reason.strip(), session.by, now_utc)
        now = check(connection, session.registry, past=True).named(name)
    if as_json:
        print_json(now.as_dict() | session.noticed())
        return
    what = "Put by" if now.is_resting else "Noted, but shown all the same, as it is a STOP for a diff in use"
    why = f"{begun(now.put_by.words)}." if now.put_by else ""
    for line in (f"{what}: {now.name}: {now.words}.", why, "It comes back when what it says changes."):
        print_text("\n".join(wrapped(line)))


def _place(session: Session) -> None:
    """Place the rows that came together, and say on standard error what moved."""
    from bevelbook.saving.placed_rows import place_rows
    from bevelbook.store.sqlite_errors import in_words

    connection = session.open_for_writing()
    try:
        with in_words(session.path):
            done = place_rows(connection, session.path, session.registry, asked=session.asked, by=session.by)
    finally:
        connection.close()
    lines = [*done.placed.lines(), *done.shelf]
    for line in lines or ["There was nothing to place."]:
        session.notice(line)


def _repair(session: Session, *, rebuild: bool, accept: bool) -> None:
    """Do what the options ask for, and say on standard error what was done."""
    from bevelbook.store.soundness import accept_changes
    from bevelbook.store.soundness import rebuild as made_again
    from bevelbook.store.sqlite_errors import in_words

    connection = session.open_for_writing()
    try:
        with in_words(session.path):
            if rebuild:
                done = made_again(connection, session.path, asked=session.asked, by=session.by)
                session.notice("; ".join(done) + "." if done else "There was nothing to make again.")
            if accept:
                count = accept_changes(connection, session.path, asked=session.asked, by=session.by)
                session.notice(f"Accepted the changes of {counted(count, 'record')}.")
    finally:
        connection.close()
