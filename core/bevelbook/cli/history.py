"""``bevelbook history [RECORD]``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.session import Session

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.store.entry_contents import PastEntry

SHOWN = 20
"""Entries that are shown unless all are asked for."""


@click.command("history")
@click.argument("words", metavar="[[KIND] RECORD]", nargs=-1)
@click.option("--all", "every", is_flag=True, help=f"List all entries, not only the last {SHOWN}.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, words: tuple[str, ...], every: bool, as_json: bool) -> int:
    """List what was written, newest first: when, who, what was asked for, and what came of it.

    \b
    bevelbook history
    bevelbook history rear-a/2
    bevelbook history opening of rear-a/2

    With a record: its versions, also those of one that was removed. 'bevelbook take-back NUMBER' takes an entry back.
    """
    with session.reading() as connection:
        if words:
            return _of_record(session, connection, list(words), as_json)
        return _of_all(session, connection, None if every else SHOWN, as_json)


def _of_all(session: Session, connection: sqlite3.Connection, most: int | None, as_json: bool) -> int:
    from bevelbook.display.format import wrapped
    from bevelbook.taking_back.listing import said_entries

    found, older = said_entries(connection, most)
    if as_json:
        entries = [
            _as_dict(one.entry) | {"came_of_it": list(one.lines), "taken_back_by": one.taken_back_by} for one in found
        ]
        print_json({"invented": session.invented, "entries": entries, "older": older})
        return 0
    if not found:
        print_text("Nothing was written yet.")
    for one in found:
        print_text("\n".join(wrapped(f"{_head(one.entry)}: {one.entry.asked}")))
        for line in one.lines:
            print_text("\n".join(wrapped(line, indent="  ")))
        if one.taken_back_by is not None:
            print_text(f"  taken back by entry {one.taken_back_by}")
    if older:
        print_text(f"{older} older: bevelbook history --all")
    say_if_invented(session.invented)
    return 0


def _of_record(session: Session, connection: sqlite3.Connection, words: list[str], as_json: bool) -> int:
    from bevelbook.display.format import wrapped
    from bevelbook.reports.clashes_there import clashes_about
    from bevelbook.reports.joined import also_written_or_stands
    from bevelbook.taking_back.listing import said_record

    found = said_record(connection, words)
    clashes = clashes_about(connection, found.kind, found.row_id)
    also = also_written_or_stands(connection, found.kind, found.row_id)
    if as_json:
        versions = [{"entry": _as_dict(one.entry) if one.entry else None, "words": one.words} for one in found.versions]
        in_clash = [one.as_dict() for one in clashes]
        print_json(
            {
                "invented": session.invented,
                "record": found.name,
                "also_written": list(also),
                "versions": versions,
                "clashes": in_clash,
            }
        )
        return 0
    for clash in clashes:
        for line in clash.lines():
            print_text(line)
    print_text(found.name)
    for line in also:
        print_text("\n".join(wrapped(line, indent="  ")))
    for one in found.versions:
        head = _head(one.entry) if one.entry else "another program, or before entries were kept"
        print_text("\n".join(wrapped(f"{head}: {one.words}", indent="  ")))
    say_if_invented(session.invented)
    return 0


def _head(entry: PastEntry) -> str:
    """The number, the time and the author of an entry."""
    from bevelbook.taking_back.words import when

    return "  ".join(part for part in (str(entry.number), when(entry.made_at), entry.made_by or "") if part)


def _as_dict(entry: PastEntry) -> dict[str, object]:
    return {
        "number": entry.number,
        "id": entry.id,
        "made_at": entry.made_at,
        "made_by": entry.made_by,
        "asked": entry.asked,
        "reason": entry.reason,
    }
