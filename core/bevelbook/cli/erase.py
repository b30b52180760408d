"""``bevelbook erase [KIND NAME [FIELD]]``."""

from __future__ import annotations

import sys
from contextlib import closing
from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.session import Session
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, Place

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator, Sequence

    from bevelbook.backup.held_elsewhere import HeldElsewhere
    from bevelbook.records import Kind
    from bevelbook.saving.erasing import Erased, ToErase
    from bevelbook.web.pairing.pairings_file import PairingsFile

_NOT_SEEN = (
    "Not seen from here: exports and editions that were put elsewhere or sent on, printed cards and labels, chats, "
    "pictures on phones, and copies of files that you made by hand."
)


@click.command("erase")
@click.argument("words", metavar="[KIND NAME [FIELD]]", nargs=-1)
@click.option("--only-who", is_flag=True, help="Leave a person's name in the texts of notes; take it out elsewhere.")
@click.option("--yes", is_flag=True, help="Do not ask; for scripts.")
@click.option("--dry-run", is_flag=True, help="Say what would go, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, words: tuple[str, ...], only_who: bool, yes: bool, dry_run: bool, as_json: bool) -> int:
    """Take a person, the text of a note or a photograph out, for good.

    \b
    bevelbook erase person anna
    bevelbook erase run 2026-05-03/1 note
    bevelbook erase photo 3f2a1c
    bevelbook erase

    A person's records stay, since they are the team's; only who it was is gone: a word such as 'erased 3547' stands
    there, the same on every laptop. Of a note all versions go, also of a record that was removed. A file of notes that
    holds the name or the text is not kept any more; what was read of it stays.

    It first says how much goes, and asks. It cannot be taken back. It goes along with the next merge. Without words it
    finishes what was begun. Ends with exit code 1 where the old text is still in the file.
    """
    from bevelbook.backup.held_elsewhere import held_elsewhere, traces_of
    from bevelbook.web.pairing.settings_folder import settings_folder

    if not words:
        return _finish(session, as_json)
    kind, name, field = _read(words)
    connection = session.open_for_writing()
    with closing(connection):
        session.look_whether_invented(connection)
        wanted = _wanted(connection, kind, name, field, only_who=only_who)
        phones = _phones(connection, wanted)
        traces = traces_of(connection, session.path, wanted, session.by)
        if not as_json:
            _say_beforehand(wanted, phones)
        done = None
        if not dry_run:
            if not wanted.is_nothing or phones:
                _ask(wanted, yes)
            done = _erase(session, connection, wanted, phones)
        others = _other_phones(connection)
    held = held_elsewhere(session.path, wanted, traces, settings_folder())
    if as_json:
        print_json(
            {
                "invented": session.invented,
                **wanted.as_dict(),
                "phones": phones,
                "done": done is not None,
                "gone_from_the_file": None if done is None else done.is_wiped,
                "still_in": [str(one.path) for one in held.files],
                "elsewhere": {**held.as_dict(), "paired_phones": others},
                **session.noticed(),
            }
        )
    else:
        _say_afterwards(session, done, held, others)
    return 1 if done is not None and not done.is_wiped else 0


def _read(words: Sequence[str]) -> tuple[Kind, str, str | None]:
    """The kind, the name and the field that were typed; all of it may be one word in quotation marks."""
    from bevelbook.records import kind_called, kind_in

    if len(words) == 1:
        words = words[0].split()
        count = kind_in(words) or 1
        words = [*words[:count], " ".join(words[count:])] if len(words) > count else words
    count = kind_in(words) or 1
    rest = words[count:]
    if len(rest) not in (1, 2):
        raise InputError(
            "what is to go was not understood",
            code="missing_input",
            found=" ".join(words),
            wanted="a kind of record, its name, and of a note its field",
            remedy="As in 'bevelbook erase person anna'. Put quotation marks around a name with blanks. Nothing was "
            "changed.",
        )
    kind = kind_called(" ".join(words[:count]))
    if not kind.own:
        raise InputError(
            f"{kind.table.replace('_', ' ')} are written by the tool only",
            code="not_a_text",
            found=kind.name,
            remedy="Erase the person, or the text of the record itself. Nothing was changed.",
        )
    return kind, rest[0], rest[1] if len(rest) == 2 else None


def _wanted(connection: sqlite3.Connection, kind: Kind, name: str, field: str | None, *, only_who: bool) -> ToErase:
    from bevelbook.saving.erasing import person_to_erase, photograph_to_erase, text_to_erase

    if kind.name == "person" and field is None:
        return person_to_erase(connection, name, only_who=only_who)
    if only_who:
        raise InputError(
            "that goes with a person alone",
            code="only_of_a_person",
            place=Place(column="--only-who"),
            remedy="Leave it out. Nothing was changed.",
        )
    if kind.name == "photo" and field is None:
        return photograph_to_erase(connection, name)
    return text_to_erase(connection, kind, name, field)


def _say_beforehand(wanted: ToErase, phones: Sequence[str]) -> None:
    from bevelbook.display.format import wrapped

    lines = []
    if wanted.common:
        named = ", ".join(wanted.common)
        lines.append(
            f"{named}: a word of the language or part of a team mate's name too. It goes out of every text in which it "
            "stands as a word."
        )
        lines += [f"  {one.where}: {one.text}" for one in wanted.samples]
        lines.append("To leave texts as they are, give --only-who.")
    also = [one for one in wanted.names if one != wanted.called.removeprefix("person ")]
    if also:
        lines.append(f"Also called {', '.join(also)}.")
    lines += wanted.left
    lines.append(f"{wanted.line()}.")
    if phones:
        lines.append(f"Paired phones that are ended: {', '.join(phones)}.")
    if not wanted.is_nothing:
        lines.append(f"'{wanted.instead}' will stand there.")
    for line in lines:
        print_text("\n".join(wrapped(line)))


def _ask(wanted: ToErase, yes: bool) -> None:
    if yes:
        return
    if not sys.stdin.isatty():
        raise InputError(
            "this cannot be taken back, so it is asked first",
            code="not_confirmed",
            found=wanted.line(),
            remedy="In a script give --yes. Nothing was changed.",
        )
    if not click.confirm("This cannot be taken back. Erase it", default=False, err=True):
        raise InputError("nothing was erased", code="not_confirmed", remedy="Nothing was changed.")


def _erase(session: Session, connection: sqlite3.Connection, wanted: ToErase, phones: Sequence[str]) -> Erased:
    from bevelbook.saving.erasing import erase
    from bevelbook.store.entry_contents import ERASED_A_PERSON, ERASED_A_TEXT

    asked = ERASED_A_PERSON if wanted.names else ERASED_A_TEXT
    pairings = _pairings(connection) if phones else None

    def end_pairings() -> None:
        if pairings is not None:
            pairings.end_for_good(wanted.raw)

    return erase(connection, session.path, session.registry, wanted, asked=asked, by=session.by, also=end_pairings)


def _phones(connection: sqlite3.Connection, wanted: ToErase) -> list[str]:
    """The paired phones of this book that the person holds, by name."""
    found = _pairings(connection) if wanted.names else None
    return [one.name for one in found.held_by(wanted.raw)] if found else []


def _pairings(connection: sqlite3.Connection) -> PairingsFile | None:
    """The pairings with this database; None where there are none."""
    from bevelbook.store.book_mark import known_mark
    from bevelbook.web.pairing.pairings_file import FILE_NAME, PairingsFile
    from bevelbook.web.pairing.settings_folder import settings_folder

    mark, folder = known_mark(connection), settings_folder()
    return PairingsFile(folder, mark) if mark is not None and (folder / FILE_NAME).exists() else None


def _other_phones(connection: sqlite3.Connection) -> list[str]:
    """The phones that are paired with this book, by name."""
    found = _pairings(connection)
    return [one.name for one in found.all()] if found else []


def _say_afterwards(session: Session, done: Erased | None, held: HeldElsewhere, phones: Sequence[str]) -> None:
    from bevelbook.display.format import wrapped

    lines = []
    if done is None:
        lines.append("Nothing was written.")
    elif done.is_wiped:
        lines.append("Erased, and gone from the file.")
    elif done.why is not None:
        lines.append(
            "Erased from all records; the old text is still in the file, which could not be written again: "
            f"{done.why.what}. Put that right, then type 'bevelbook erase'."
        )
    else:
        lines.append(
            "Erased from all records; the old text is still in the file, since another program has it open. Close that "
            "one, then type 'bevelbook erase'."
        )
    lines += _held_lines(held, phones)
    lines.append(_NOT_SEEN)
    for line in lines:
        print_text(line if line.startswith(" ") else "\n".join(wrapped(line)))  # a path in one piece, to be copied
    say_if_invented(session.invented)


def _held_lines(held: HeldElsewhere, phones: Sequence[str]) -> Iterator[str]:
    """Where it still is, or may be."""
    own = {one.path for one in held.sheets}
    seen = [one for one in held.files if one.is_seen and one.path not in own]
    if seen:
        yield "It is still in these, beside the database or where this computer put a copy. Remove them yourself:"
        yield from (f"  {one.path} ({one.what})" for one in seen)
    unseen = [one for one in held.files if not one.is_seen]
    if unseen:
        yield "These could not be looked into, so it may be there:"
        yield from (f"  {one.path} ({one.what})" for one in unseen)
    if held.not_looked:
        yield f"{counted(held.not_looked, 'other file')} in that folder {_were(held.not_looked)} not looked into."
    if held.away:
        yield "Backups that are not there now, such as on a stick that is not plugged in. They still have it:"
        yield from (f"  {one.path}, of {_day(one.made_at)}" for one in held.away)
    if held.sheets:
        yield "It was in these sheets. They are your own files, and stay as they are:"
        yield from (f"  {one.words}" for one in held.sheets)
    if held.writers:
        yield (
            f"In this book {', '.join(held.writers)} wrote too. Other laptops still have it until they next meet this "
            "one (merge, or a weekend); then it is taken out there."
        )
    else:
        yield "A laptop that has this book takes it out when it next meets this one (merge, or a weekend)."
    if phones:
        yield f"Paired phones: {', '.join(phones)}. What waits on a phone is not seen from here."


def _were(count: int) -> str:
    return "was" if count == 1 else "were"


def _day(moment: str) -> str:
    from bevelbook.display.clock import local_time

    at = local_time(moment)
    return f"{at:%Y-%m-%d %H:%M}" if at else moment


def _finish(session: Session, as_json: bool) -> int:
    """Finish what was begun."""
    from bevelbook.store.wiping import is_to_wipe, wipe

    with closing(session.open_for_writing()) as connection:
        session.look_whether_invented(connection)
        was = is_to_wipe(connection)
        is_wiped = wipe(connection, session.path)
    if as_json:
        print_json({"invented": session.invented, "begun": was, "gone_from_the_file": is_wiped, **session.noticed()})
    elif not was:
        print_text("Nothing is left to be done. Name what to take out: 'bevelbook erase person NAME'.")
    else:
        print_text("Gone from the file." if is_wiped else "Still in the file: another program has it open. Close that.")
    return 0 if is_wiped else 1
