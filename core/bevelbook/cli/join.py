"""``bevelbook join [KIND A B]``."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, report_failed, say_if_invented
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator


@click.command("join")
@click.argument("words", metavar="[KIND A B]", nargs=-1)
@click.option("--not", "are_two", is_flag=True, help="They are two, although their names are equal or look alike.")
@click.option("--note", metavar="TEXT", help="Anything else to keep with it.")
@click.option("--dry-run", is_flag=True, help="Say what would come of it, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session, words: tuple[str, ...], are_two: bool, note: str | None, dry_run: bool, as_json: bool
) -> int:
    """Say that two diffs, fluids, people, venues, cars or scales are one and the same.

    \b
    bevelbook join diff rear-a rear-A2
    bevelbook join person bo "Bo B." --not
    bevelbook join

    The name of the first stays; the other one still finds it. All that was written of either is of both from then on.
    It stays as it was written: 'bevelbook take-back' parts them again, and nothing is lost. Equal names are one without
    a word, unless somebody said that they are two.

    Without names it lists what is joined, and names that look alike.
    """
    if not words:
        with session.reading() as connection:
            return _list(session, connection, as_json)
    if len(words) != 3:
        raise InputError(
            "two names are needed, after the kind of what they are",
            code="missing_input",
            found=" ".join(words),
            wanted="KIND A B",
            remedy="As in 'bevelbook join diff rear-a rear-A2'. Put quotation marks around a name with blanks.",
        )
    return _join(session, words, are_two=are_two, note=note, dry_run=dry_run, as_json=as_json)


def _join(
    session: Session, words: tuple[str, ...], *, are_two: bool, note: str | None, dry_run: bool, as_json: bool
) -> int:
    from bevelbook.display.format import wrapped
    from bevelbook.saving.joining import joined_kind, say_of_two
    from bevelbook.store.entries import number_of_current

    kind, one, other = joined_kind(words[0]), words[1], words[2]
    with _trying(session) if dry_run else session.writing() as connection:
        said = say_of_two(connection, session.registry, kind, one, other, session.by, is_same=not are_two, note=note)
        number = number_of_current(connection)
    if as_json:
        print_json({"invented": session.invented, "dry_run": dry_run, **said.as_dict(), **session.noticed()})
        return report_failed(said.upkeep)
    for line in said.lines():
        print_text("\n".join(wrapped(line.strip(), indent="  " if line.startswith(" ") else "")))
    print_text("Nothing was written." if dry_run else f"'bevelbook take-back {number}' undoes it.")
    say_if_invented(session.invented)
    return report_failed(said.upkeep)


@contextmanager
def _trying(session: Session) -> Iterator[sqlite3.Connection]:
    """A connection to a copy, which is gone afterwards."""
    from contextlib import closing

    from bevelbook.store.copying import copy_aside
    from bevelbook.store.opening import transaction

    with (
        session.reading() as connection,
        closing(copy_aside(connection, session.path)) as copy,
        transaction(copy, session.path, asked=session.asked, by=session.by),
    ):
        yield copy


def _list(session: Session, connection: sqlite3.Connection, as_json: bool) -> int:
    from bevelbook.reports.joined import all_joined, said_two
    from bevelbook.reports.look_alike_names import names_that_look_alike

    joined, two, alike = all_joined(connection), said_two(connection), names_that_look_alike(connection)
    if as_json:
        print_json(
            {
                "invented": session.invented,
                "joined": [one.as_dict() for one in joined],
                "two": [one.as_dict() for one in two],
                "look_alike": [
                    {"record": one.kind.name, "one": one.one, "other": one.other, "command": one.command}
                    for one in alike
                ],
            }
        )
        return 0
    _print_listed("One and the same", [one.line for one in joined])
    _print_listed("Two, although they share a name or look alike", [one.line for one in two])
    _print_listed("Names that look alike", [f"{one.words} '{one.command}'" for one in alike])
    if not joined and not two and not alike:
        print_text("Nothing is joined, and no names look alike.")
    say_if_invented(session.invented)
    return 0


def _print_listed(heading: str, lines: list[str]) -> None:
    from bevelbook.display.format import wrapped

    if lines:
        print_text(heading)
        for line in lines:
            print_text("\n".join(wrapped(line, indent="  ")))
