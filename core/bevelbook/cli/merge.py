"""``bevelbook merge OTHER``."""

from __future__ import annotations

import sys
from contextlib import closing
from typing import TYPE_CHECKING, Any

import click

from bevelbook.cli import print_json, print_text, report_failed, say_beside, say_if_invented
from bevelbook.cli.files import FileToRead, ReadFrom, on_disk
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.in_command import in_command

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bevelbook.meeting.met_words import MetSaid
    from bevelbook.meeting.settled_clash import SettledClash


@click.command("merge")
@click.argument("other", metavar="[OTHER|-]", required=False, type=FileToRead())
@click.option("--dry-run", is_flag=True, help="Say what would come of it, and write nothing.")
@click.option(
    "--settle",
    nargs=2,
    metavar="NAME N|VALUE|both|N+others",
    help="Settle a clash: the version of that number or value holds, or what both changed, or one and what the others "
    "changed beside it.",
)
@click.option("--seen", metavar="MARK", help="With --settle: only if the versions are those that 'check' printed.")
@click.option("--invented", is_flag=True, help="Take in a database in which everything is invented, or into one.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    other: ReadFrom | None,
    dry_run: bool,
    settle: tuple[str, str] | None,
    seen: str | None,
    invented: bool,
    as_json: bool,
) -> int:
    """Bring in all that a team mate's database holds, or settle what was changed in two places.

    \b
    bevelbook merge bo.db
    bevelbook merge bo.db --dry-run
    bevelbook merge weekend.zip
    bevelbook merge --settle "build rear-a/12" 2

    OTHER is a database as it was sent, also one of an older version, or what 'bevelbook export' wrote: a folder or a
    zip; - is standard input. It is only read. Nothing is lost, the order does not matter, and what is here already
    comes in once. So each merges what the others send, and all hold the same.

    A record that was changed in two places is then in clash: the later one is shown, all are kept, and 'bevelbook
    check' lists them with their numbers. Settling is an entry: it goes along with the next merge, and 'bevelbook
    take-back' takes it back.

    A merge is nobody's entry and cannot be taken back: a copy of the database as it was is kept beside it. Where
    another program changed a record in one of the two without a version of its own, what stands here stays, and what
    stands there is named each time; what it changed with a version, in nobody's name, is taken in and named. Ends with
    exit code 1 then, and if records are in clash by it.
    """
    if settle:
        if other is not None or dry_run or invented:
            raise InputError(
                "a clash is settled by itself",
                code="settle_alone",
                place=Place(column="--settle"),
                remedy="Merge first, then settle what is in clash. Nothing was changed.",
            )
        return _settle(session, *settle, seen=seen, as_json=as_json)
    if other is None:
        raise InputError(
            "no database was named",
            code="missing_input",
            remedy="Name the one that you were sent: 'bevelbook merge FILE'. Nothing was changed.",
        )
    return _merge(session, other, dry_run=dry_run, invented=invented, as_json=as_json)


def _merge(session: Session, other: ReadFrom, *, dry_run: bool, invented: bool, as_json: bool) -> int:
    from bevelbook.meeting.from_outside import opened_aside
    from bevelbook.meeting.taken_in import take_in, would_take_in
    from bevelbook.store.opened_to_read import open_for_reading
    from bevelbook.store.sqlite_errors import in_words

    calculators = [one.calculator for one in session.registry.with_rows()]
    connection = open_for_reading(session.path, untouched=True) if dry_run else session.open_for_writing()
    _tell(f"Looking at {other.name} ...")
    with closing(connection), in_words(session.path):
        session.look_whether_invented(connection)
        with on_disk(other) as path, opened_aside(path, own=session.path, tell=session.notice) as aside:
            _tell(f"Bringing in {other.name} ...")
            try:
                said, kept = (would_take_in if dry_run else take_in)(
                    connection, session.path, aside, calculators, allow_invented=invented
                )
            except InputError as fault:
                if fault.code == "invented_and_real":
                    invited = "To take it in all the same, give --invented: all of it is invented then."
                    fault.remedy = f"{fault.remedy} {invited}"
                if fault.code == "is_edition":
                    fault.place = Place(str(other))
                    fault.remedy = (fault.remedy or "").replace("--from FILE", f"--from {in_command(str(other))}")
                raise
            session.look_whether_invented(connection)
    copy = kept.name if kept else ""
    if as_json:
        print_json(
            {"done": not dry_run, "from": str(other), **said.as_dict(), "copy": copy or None, **session.noticed()}
        )
    else:
        _print_met(session, other, said, dry_run=dry_run, copy=copy)
    return 1 if said.clashes or said.apart or said.by_others else 0


def _tell(line: str) -> None:
    """Say on a terminal what takes its time now."""
    if sys.stderr.isatty():
        say_beside(line)


def _print_met(session: Session, other: ReadFrom, said: MetSaid, *, dry_run: bool, copy: str) -> None:
    from bevelbook.display.format import wrapped
    from bevelbook.meeting.apart_words import remedies

    print_text(f"From {other.name}{', as it would be' if dry_run else ''}:")
    for line in said.lines:
        print_text("\n".join(wrapped(line, indent="  ")))
    for version in said.apart:
        for line in version.lines():
            print_text(line)
    for line in remedies(said.apart):
        print_text(line)
    for clash in said.clashes if not dry_run else ():
        for line in clash.lines():
            print_text(line)
    if dry_run:
        print_text("Nothing was changed.")
    elif copy:
        way_back = f"bevelbook backup --bring-back {in_command(str(session.path.with_name(copy)))}"
        back = f"The database as it was before is kept as {copy}. To be back there:"
        print_text("\n".join(wrapped(back)))
        print_text(f"  {way_back}")
    say_if_invented(session.invented)


def _settle(session: Session, name: str, which: str, *, seen: str | None, as_json: bool) -> int:
    from bevelbook.meeting.settled_clash import settle_clash
    from bevelbook.meeting.version_chosen import version_chosen
    from bevelbook.reports.clashes import clash_named, refuse_other_versions, said_clashes
    from bevelbook.store.clashes import clashes_of
    from bevelbook.store.entries import number_of_current

    with session.writing() as connection:
        clash = clash_named(said_clashes(connection), name)
        refuse_other_versions(clash, seen)
        (found,) = clashes_of(connection, [(clash.kind.table, clash.row_id)])
        chosen = version_chosen(clash, found, which)
        done = settle_clash(
            connection, session.registry, clash.kind, clash.row_id, chosen, by=session.by, seen=clash.seen
        )
        number = number_of_current(connection)
    if as_json:
        print_json(_settled_as_dict(done) | session.noticed())
    else:
        _print_settled(session, done, number)
    return report_failed(done.upkeep)


def _print_settled(session: Session, done: SettledClash, number: int) -> None:
    from bevelbook.display.format import wrapped

    lines: Sequence[str] = (
        f"Settled {done.clash.name}: {done.holds}.",
        *done.scales,
        *done.placed.lines(),
        *done.shelf,
        *done.upkeep.waiting_lines(),
    )
    for line in lines:
        print_text("\n".join(wrapped(line)))
    print_text(f"To have the clash back: bevelbook take-back {number}")
    say_if_invented(session.invented)


def _settled_as_dict(done: SettledClash) -> dict[str, Any]:
    return {
        "settled": done.clash.name,
        "id": done.clash.row_id,
        "holds": done.holds,
        "findings": list(done.scales),
        "shelf": list(done.shelf),
        **done.placed.as_dict(),
    }
