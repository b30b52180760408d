"""``bevelbook backup``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.files import FROM_DASH, FileToRead, FolderToUse, ReadFrom, on_disk
from bevelbook.cli.session import Session
from bevelbook.cli.whole_number import WholeNumber

_MORE_OF_IT: Final = "'bevelbook check --deep' says more."

if TYPE_CHECKING:
    from bevelbook.backup.copies_there import CopyThere
    from bevelbook.backup.dated_copy import MadeCopy


@click.command("backup")
@click.option(
    "--to",
    "folder",
    metavar="FOLDER",
    type=FolderToUse(),
    help="Where the copy goes, such as a stick [beside the database].",
)
@click.option(
    "--copies", type=WholeNumber(1), help="Keep the newest that many dated copies there, and remove older ones."
)
@click.option("--list", "only_list", is_flag=True, help="List the copies of this database that can be found.")
@click.option(
    "--bring-back",
    "brought",
    metavar="FILE|-",
    type=FileToRead(),
    help=f"Put that copy in the place of the database, which is kept under another name. {FROM_DASH}",
)
@click.option("--other-book", is_flag=True, help="With --bring-back: also a copy of another book.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    folder: Path | None,
    copies: int | None,
    only_list: bool,
    brought: ReadFrom | None,
    other_book: bool,
    as_json: bool,
) -> int:
    """Keep a copy of the database, or bring one back.

    \b
    bevelbook backup
    bevelbook backup --to /media/stick --copies 10
    bevelbook backup --list
    bevelbook backup --bring-back bevelbook-2026-05-24-1832.db

    The copy is named after the database and the time, holds all of it, and is read back before it counts. 'bevelbook
    enter' may go on meanwhile. Only you may read it. --copies removes older dated copies in that folder, never the
    new one: those alone that this computer put there, of this database, and that were not written to since.

    --bring-back keeps the database as it is now beside the copy, under a name with the time. Stop 'bevelbook enter' and
    'bevelbook serve' first. A copy beside the database does not help where the laptop is lost: put one on a stick too.
    """
    given = [name for name, is_set in (("--list", only_list), ("--bring-back", brought is not None)) if is_set]
    if len(given) > 1:
        raise click.UsageError("--list lists copies, --bring-back brings one back: not both.")
    if given and (copies is not None or (folder is not None and not only_list)):
        raise click.UsageError(f"{given[0]} makes no copy: leave --to and --copies out.")
    if other_book and brought is None:
        raise click.UsageError("--other-book goes with --bring-back: name a copy.")
    if only_list:
        return _list(session, folder, as_json=as_json)
    if brought is not None:
        return _bring_back(session, brought, other_book=other_book, as_json=as_json)
    return _make(session, folder, copies, as_json=as_json)


def _make(session: Session, folder: Path | None, copies: int | None, *, as_json: bool) -> int:
    from bevelbook.backup.dated_copy import make_copy
    from bevelbook.web.pairing.settings_folder import settings_folder

    session.say_if_it_waits()
    made = make_copy(session.path, settings_folder(), folder=folder, keep=copies)
    if made.not_noted:
        session.notice(f"the copy is whole, but it is not in the list of copies: {made.not_noted}")
    if made.not_removed:
        names = ", ".join(one.name for one in made.not_removed)
        session.notice(f"these older copies could not be removed, which leaves more than {copies} there: {names}.")
    if as_json:
        print_json(_as_dict(made) | session.noticed())
        return 0
    _print_made(made)
    say_if_invented(made.is_invented)
    return 0


def _print_made(made: MadeCopy) -> None:
    from bevelbook.interchange.export_words import held_in_words, size_in_words

    held = {name: count for name, count in made.content.rows.items() if name in _said()}
    print_text(f"Kept a copy: {made.path}, {size_in_words(made.byte_count)}.")
    print_text(f"It was read back and holds what the database holds: {held_in_words(held)}.")
    if made.faults.are_any:
        print_text(f"As in the database, {'; '.join(made.faults.words())}. {_MORE_OF_IT} Older copies stay for that.")
    if made.removed:
        print_text(f"Removed older copies: {', '.join(one.name for one in made.removed)}.")


def _said() -> frozenset[str]:
    """The tables that are counted in words."""
    from bevelbook.interchange.exported_tables import exported_tables

    return frozenset(table.name for table in exported_tables())


def _as_dict(made: MadeCopy) -> dict[str, object]:
    return {
        "copy": str(made.path),
        "bytes": made.byte_count,
        "made_at": made.made_at,
        "rows": dict(made.content.rows),
        "content": made.content.digest,
        "broken_references": made.faults.references,
        "faults": made.faults._asdict(),
        "removed": [str(one) for one in made.removed],
        "noted": made.not_noted is None,
    }


def _list(session: Session, folder: Path | None, *, as_json: bool) -> int:
    from bevelbook.backup.bring_back import DAMAGED
    from bevelbook.backup.copies_there import copies_there
    from bevelbook.declare.errors import DatabaseError
    from bevelbook.store.book_mark import known_mark
    from bevelbook.web.pairing.settings_folder import settings_folder

    try:
        with session.reading() as connection:
            book = known_mark(connection)
    except DatabaseError as fault:  # a copy is wanted most where the book itself cannot be read
        if fault.code not in DAMAGED:
            raise
        book = None
        session.notice(f"{session.path.name} is damaged: its copies are known by their names and places alone.")
    found = copies_there(session.path, book, settings_folder(), [] if folder is None else [folder])
    if as_json:
        print_json({"copies": [one.as_dict() for one in found]})
        return 0
    for line in _lines(session.path, found):
        print_text(line)
    say_if_invented(session.invented)
    return 0


def _lines(path: Path, found: list[CopyThere]) -> list[str]:
    from bevelbook.interchange.export_words import size_in_words

    if not found:
        return [f"There is no copy of {path.name} beside it, nor where this computer put one."]
    lines = [f"Copies of {path.name}, the newest first:"]
    for one in found:
        where = one.path.name if one.path.parent == path.parent.resolve() else str(one.path)
        sort = "" if one.sort == "dated" else f", {one.sort}"
        own = "" if one.is_counted or one.sort != "dated" else ", not made here or written to since"
        lines.append(f"  {one.at}  {where}  {size_in_words(one.byte_count)}{sort}{own}")
    others = [one for one in found if one.sort != "dated"]
    if others:
        lines.append(
            "Those that were kept before something stay until you remove them by hand: together "
            f"{size_in_words(sum(one.byte_count for one in others))}."
        )
    return lines


def _bring_back(session: Session, brought: ReadFrom, *, other_book: bool, as_json: bool) -> int:
    from bevelbook.backup.bring_back import bring_back
    from bevelbook.web.pairing.settings_folder import settings_folder

    with on_disk(brought) as copy:
        done = bring_back(session.path, copy, settings_folder(), other_book=other_book)
    if as_json:
        kept = str(done.kept) if done.kept else None
        of_copy = {"brought_back": str(brought), "database": str(session.path), "kept": kept}
        print_json(of_copy | {"faults": done.faults._asdict()})
        return 0
    print_text(f"{session.path.name} is now as {brought.name} has it.")
    if done.faults.are_any:
        print_text(f"As in that copy, {'; '.join(done.faults.words())}. {_MORE_OF_IT}")
    if done.kept is not None:
        damaged = ", damaged as it is" if done.was_damaged else ""
        print_text(f"The database as it was is kept{damaged}: {done.kept.name}.")
    print_text("Phones that are paired stay paired. What they noted since that copy is not in it.")
    return 0
