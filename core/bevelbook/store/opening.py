"""Opening a database: for writing (migrated first), or new."""

from __future__ import annotations

import filecmp
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.facts import rows_to_place, touched_diffs
from bevelbook.facts.renew import renew_touched
from bevelbook.plugin.elsewhere import short_of_time
from bevelbook.store import as_written, diffs_of_rows, entries
from bevelbook.store.bounded_reading import distrust
from bevelbook.store.closed_file import make_closed
from bevelbook.store.edition_mark import refuse_edition
from bevelbook.store.entries import OpenEntry
from bevelbook.store.folder_aside import faults_of_folder, folder_aside, remove_left
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opened_to_read import BUSY_SECONDS, check_is_ours, closed_on_fault, refuse_other_log
from bevelbook.store.schema import APPLICATION_ID
from bevelbook.store.sqlite_errors import explained, in_words
from bevelbook.store.turn import begin_writing, wait_until_readable

_ROOM_FOR_COPY: Final = (
    "A copy of the database as it was goes beside it first. Make room, or move the database to a folder of your own, "
    "with a -wal beside it. Nothing was changed."
)
ROOM_FOR_NEW: Final = "Make room, or name a file in a folder of your own: 'bevelbook --db FILE new'. Nothing was made."
LONGEST_ELSEWHERE_S: Final = 0.3
"""The longest that plugins in other processes may hold up whoever else wants to write; our own figure."""
PAGE_BYTES: Final = 8_192
"""For a new file: an import takes about 5 % less processor time than with half of it."""
LARGE_LOG_PAGES: Final = 512
"""Pages of a log that is large: 4 MB, which some thirty entries make. Our own figures, as the next three."""
_PAGES_OF_AN_ENTRY: Final = 24
_LARGE_LOG_MS: Final = 500
_LONGEST_MS: Final = 2_000
_NAMED: Final = 5


def new_database(
    path: Path,
    *,
    busy_seconds: float = BUSY_SECONDS,
    begin: Callable[[sqlite3.Connection], object] = lambda _connection: None,
) -> sqlite3.Connection:
    """Make an empty database, and open it. It is made beside its name and gets it when it is whole, with what ``begin``
    writes first; so a stop leaves none, or one that can be used. Raises DatabaseError if the name is already taken."""
    remove_left(path.parent)
    refuse_taken_name(path)
    from bevelbook.store.migrate import create

    with faults_of_folder(path.parent, ROOM_FOR_NEW), folder_aside(path.parent) as aside:
        whole = aside / path.name
        make_closed(whole)
        with closing(_connect(whole, busy_seconds)) as connection, in_words(path):
            connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            create(connection)
            begin(connection)
            connection.execute("PRAGMA journal_mode = WAL")  # last, so that nothing is in a log that stays behind
        if not _is_put(whole, path):
            refuse_taken_name(path)
    return _connect(path, busy_seconds)


def refuse_taken_name(path: Path) -> None:
    """Raise DatabaseError if there is a file of that name already, or no folder for one."""
    if path.is_symlink() and not path.exists():
        raise DatabaseError(
            "this is a link to a place where nothing is",
            code="link_to_nothing",
            place=Place(str(path)),
            remedy="Choose another name: 'bevelbook --db FILE new', or remove the link. Nothing was changed.",
        )
    if path.exists():
        raise DatabaseError(
            "a file with that name already exists",
            code="database_exists",
            place=Place(str(path)),
            remedy="Choose another name: 'bevelbook --db FILE new', or use the database as it is.",
        )
    if not path.parent.is_dir():
        raise DatabaseError("no such folder", code="no_folder", place=Place(str(path.parent)), remedy="Make it first.")


class Upgraded(NamedTuple):
    """An older database that was brought to this version: its file, the copy of the old one, and what was dropped."""

    file: str
    from_step: int
    to_step: int
    copy: str
    dropped: int
    """Kept results that the facts now answer."""
    unread: tuple[str, ...] = ()
    """The table and id of records with text that is not JSON; it is kept as text."""
    taken_out: tuple[str, ...] = ()
    """The table and id of records with numbers that no diff can have, and which numbers: the history keeps them."""

    def line(self) -> str:
        """The same for people."""
        said = f"{self.file} was brought from step {self.from_step} to step {self.to_step}; "
        said += f"the file as it was is kept as {self.copy}"
        if self.dropped:
            one = self.dropped == 1
            said += f"; {counted(self.dropped, 'kept result')} that the facts now answer "
            said += "was dropped" if one else "were dropped"
        if self.unread:
            said += f"; what is not JSON was kept as text in the table history: {_some(self.unread)}"
        if self.taken_out:
            said += (
                "; numbers that no diff can have were taken out, and are kept in the table history: "
                f"{_some(self.taken_out)}"
            )
        return f"{said}."


def _some(named: Sequence[str]) -> str:
    return ", ".join(named[:_NAMED]) + (" and others" if len(named) > _NAMED else "")


def open_for_writing(
    path: Path,
    *,
    busy_seconds: float = BUSY_SECONDS,
    tell: Callable[[str], None] | None = None,
    while_served: bool = False,
    book: str | None = None,
) -> sqlite3.Connection:
    """Open a bevelbook database for writing; an older one is backed up beside itself and migrated.

    Triggers and views that differ from this version's are made again; so are facts with older definitions, or after
    another program changed records. ``tell`` is called with a line for what a person should know about it.

    ``while_served`` is set by a process that has other connections to the file, and looked at it when it started. The
    file is then not opened to look at it again: POSIX lets go of all locks of a process on a file as soon as it closes
    any descriptor of that file, also those of its other connections, and another program that takes itself for the
    last one would remove their write-ahead log.
    """
    if not while_served:
        check_is_ours(path)
    elif not path.is_file():
        raise DatabaseError(
            "the database is not there any more",
            code="no_database",
            place=Place(str(path)),
            remedy="Bring it back to where it was, or start again with the one that is there now.",
        )
    from bevelbook.facts.renew import FACTS_VERSION
    from bevelbook.store.about_table import CHANGED_ELSEWHERE, facts_version
    from bevelbook.store.made_by_others import schema_parts
    from bevelbook.store.migrate import migrate, renew_where_other

    tell = tell or (lambda _line: None)

    def tell_acting(parts: Sequence[str]) -> None:
        for part in parts:
            tell(f"Another program left something in the file that would act by itself; it was taken out: {part}")

    connection = _connect(path, busy_seconds)
    with closed_on_fault(connection, path):
        with in_words(path):
            wait_until_readable(connection)
        refuse_edition(connection, path)
        if book is not None:
            _refuse_other_book(connection, path, book)
        refuse_other_log(connection, path)
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        if version < LAST_STEP:
            schema_parts(connection)
            copy = back_up(connection, path.with_name(f"{path.stem}.before-step-{LAST_STEP}{path.suffix}"))
            from bevelbook.store.old_demo import SAID_OF_OLD_DEMO, old_demo_in

            held = old_demo_in(connection)
            came = migrate(connection, is_invented=held == "all")
            tell(Upgraded(path.name, version, LAST_STEP, copy.name, came.dropped, came.unread, came.taken_out).line())
            tell_acting(came.acting)
            if held != "none":
                tell(SAID_OF_OLD_DEMO[held])
        facts = facts_version(connection)
        if facts == CHANGED_ELSEWHERE:
            tell("Another program changed records; what follows from them was worked out again.")
        elif facts != FACTS_VERSION:
            tell("What follows from the records was worked out again, by the definitions of this version.")
        tell_acting(renew_where_other(connection))
        connection.execute("PRAGMA journal_mode = WAL")
    return connection


def back_up(connection: sqlite3.Connection, target: Path) -> Path:
    """A whole copy of an open database. An earlier copy with that name is kept and a number added; an identical one is
    reused. It is made aside, so that several may be made at once; an unfinished one is removed.

    Raises sqlite3.Error, and DatabaseError where the folder is full or cannot be written.
    """
    with faults_of_folder(target.parent, _ROOM_FOR_COPY), folder_aside(target.parent) as aside:
        whole = aside / target.name
        make_closed(whole)
        with closing(sqlite3.connect(whole)) as copy:
            connection.backup(copy)
        with whole.open("rb") as file:
            os.fsync(file.fileno())
        number, free = 1, target
        while not _is_put(whole, free):
            if filecmp.cmp(whole, free, shallow=False):
                break
            number += 1
            free = target.with_name(f"{target.stem}-{number}{target.suffix}")
        return free


def _is_put(whole: Path, free: Path) -> bool:
    """Give a file a name, unless that is taken. Raises OSError."""
    try:
        os.link(whole, free)
    except FileExistsError:
        return False
    except OSError:  # a file system that has no links, such as that of many sticks
        try:
            make_closed(free)
        except FileExistsError:
            return False
        try:
            whole.replace(free)
        except BaseException:
            free.unlink()
            raise
    return True


@contextmanager
def transaction(
    connection: sqlite3.Connection,
    path: Path,
    *,
    asked: str = "",
    by: str | None = None,
    entry_id: str | None = None,
    stores_entry: bool = True,
    wipes: bool = True,
) -> Iterator[OpenEntry]:
    """The only way to write: BEGIN IMMEDIATE ... COMMIT, with the entry that its changes belong to.

    ``asked`` is what was asked for, as typed, and ``by`` who asked. If nothing was changed, no entry is kept. The
    entry's id is ``entry_id`` where whoever asks has one, by which a second try of the same is known. Without
    ``stores_entry`` none is kept: what is written then is what others wrote before, and the caller has it keep to the
    rule and has joins follow.
    Code of plugins that a server keeps out of its own process may take ``LONGEST_ELSEWHERE_S`` in all meanwhile.
    At its end the facts of every diff that it touched are worked out again, in the same transaction; at its beginning
    all of them, if another program changed what they depend on. Afterwards the write-ahead log is moved into the file
    as far as readers allow, so that a copied file is complete; where something was erased, the whole file is written
    again, unless the caller does that (``wipes``).

    Raises DatabaseError when another program holds the database, the disk is full, the folder cannot be written, the
    file is damaged, or whatever else SQLite refuses.
    """
    from bevelbook.store.keep_to_rule import keep_to_rule, last_of_history
    from bevelbook.store.migrate import renew_facts_where_other
    from bevelbook.store.wiping import is_to_wipe, wipe

    with in_words(path):
        begin_writing(connection)
        try:
            renew_facts_where_other(connection)
            entry = entries.begin(connection, asked=asked, by=by, entry_id=entry_id)
            touched_diffs.watch(connection)
            rows_to_place.watch(connection)
            diffs_of_rows.watch(connection)
            as_written.watch(connection)
            last = last_of_history(connection)
            was_to_wipe = is_to_wipe(connection)
            before = connection.total_changes
            with short_of_time(LONGEST_ELSEWHERE_S):
                yield entry
            is_changed = connection.total_changes - entry.undone > before
            if is_changed:
                if stores_entry:
                    keep_to_rule(connection, last)
                    as_written.follow_joins(connection)
                renew_touched(connection)
            entries.end(connection, entry, keep=is_changed and stores_entry)
            is_erased = not was_to_wipe and is_to_wipe(connection)
            connection.commit()
        except BaseException:
            connection.rollback()
            raise
    with suppress(sqlite3.Error):  # what was written stays written if the checkpoint finds the disk full
        _move_log(connection)
    if wipes and is_erased:
        with suppress(DatabaseError):  # it is erased, and the mark that its bytes are still there stays
            wipe(connection, path)


def _move_log(connection: sqlite3.Connection) -> None:
    """Move the write-ahead log into the file as far as readers allow, without waiting.

    Under readers without a pause it would grow for ever. So a large one is emptied where nobody reads from it; and once
    in so many pages those who read what was there before are waited for, the longer the larger it is. Raises
    sqlite3.Error.
    """
    _, pages, _ = connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
    times, further = divmod(pages, LARGE_LOG_PAGES)
    if not times:
        return
    waits_ms = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    patience_ms = min(_LONGEST_MS, _LARGE_LOG_MS * times, waits_ms) if further < _PAGES_OF_AN_ENTRY else 0
    connection.execute(f"PRAGMA busy_timeout = {patience_ms}")
    try:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        connection.execute(f"PRAGMA busy_timeout = {waits_ms}")


def _connect(path: Path, busy_seconds: float) -> sqlite3.Connection:
    try:
        connection = sqlite3.connect(path, timeout=busy_seconds, isolation_level=None)
        connection.row_factory = sqlite3.Row
        distrust(connection)
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA recursive_triggers = ON")
    except sqlite3.Error as fault:
        raise explained(fault, path) from fault
    return connection


def _refuse_other_book(connection: sqlite3.Connection, path: Path, book: str) -> None:
    """Raise DatabaseError unless the database has that mark."""
    from bevelbook.store.book_mark import known_mark

    ours = connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    if not ours or known_mark(connection) != book:
        raise DatabaseError(
            "another database is in the place of this one now",
            code="other_database",
            place=Place(str(path)),
            remedy="Nothing was stored. Put the right one back on the laptop, or stop 'bevelbook enter' and start it "
            "again with the one that is there now.",
        )
