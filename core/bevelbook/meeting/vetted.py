"""A database of somebody else becomes a clean one of this version's schema, without triggers and views: nothing of the
other file is run, only its rows are read.

What is read is a copy. Its tables must be made as ours are (``their_schema.py``); their rows are copied by column into
a fresh database that our own steps made (``rows_taken.py``) and bring to this version; then each row is looked at
(``sound_rows.py``).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import BevelbookError, DatabaseError, Place, shown
from bevelbook.interchange.clean_database import add_indexes, clean_database
from bevelbook.meeting.copied_whole import copied_whole
from bevelbook.meeting.refusing import ASK_AGAIN, refuse_damaged, words_of
from bevelbook.meeting.rows_taken import limit, only_check, only_read, take_rows, within_time
from bevelbook.meeting.sound_rows import refuse_odd_marks, refuse_unsound
from bevelbook.meeting.taken_at_once import is_taken_at_once
from bevelbook.meeting.their_schema import OurTable, TheirSchema, tables_of_step, their_schema
from bevelbook.meeting.versions_once import keep_versions_once
from bevelbook.store.about_table import ACCEPTED
from bevelbook.store.damaged_pages import is_about_a_value
from bevelbook.store.edition_mark import EDITION
from bevelbook.store.invented_mark import INVENTED
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import drop_triggers_and_views, migrate
from bevelbook.store.old_demo import SAID_OF_OLD_DEMO, old_demo_in
from bevelbook.store.opened_to_read import check_is_ours
from bevelbook.store.room_for_copy import room_for_copy
from bevelbook.store.schema import APPLICATION_ID, quoted
from bevelbook.store.sqlite_errors import explained
from bevelbook.store.text_not_utf8 import is_undecoded

CLEAN: Final = "clean.db"


def vetted(path: Path, folder: Path, *, tell: Callable[[str], None] = lambda _line: None) -> Path:
    """A clean database in that folder with what the database of somebody else holds; ``tell`` gets a line for what a
    person should know: what was left behind, and from which version it came.

    Raises DatabaseError, naming table and record, for whatever cannot be taken as it is; the other file is as it was,
    and nothing is left beside it.
    """
    copy = copied_whole(path, folder)
    size = sum(one.stat().st_size for one in folder.iterdir() if one.name.startswith(copy.name))
    target = folder / CLEAN
    with (
        room_for_copy(folder),
        closing(sqlite3.connect(copy, isolation_level=None)) as theirs,
        within_time(theirs, size, path),
    ):
        limit(theirs)
        theirs.execute("PRAGMA journal_mode = DELETE")
        only_check(theirs)
        step = _step_of(theirs, copy, path)
        schema = their_schema(theirs, step, path)
        is_sound = _is_without_odd_value(theirs, schema, path)
        only_read(theirs, schema.tables)
        if not (is_sound and step == LAST_STEP and _is_clean_at_once(copy, target, schema.tables, size, path)):
            target.unlink(missing_ok=True)
            with closing(clean_database(target, step, indexed=False)) as clean:
                _fill(theirs, clean, step, schema.tables, size, path, tell)
                refuse_unsound(clean, path)
                keep_versions_once(clean, path)
    copy.unlink()
    if schema.left_behind:
        tell(f"Left behind, since this tool does not know them: {'; '.join(schema.left_behind)}.")
    return target


def _step_of(theirs: sqlite3.Connection, copy: Path, path: Path) -> int:
    """The step of the copy as it is with its log, which the head of the file alone does not tell."""
    ours = theirs.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    step = int(theirs.execute("PRAGMA user_version").fetchone()[0])
    if not ours or step > LAST_STEP:
        check_is_ours(copy)
    if step < 1 or theirs.execute("PRAGMA encoding").fetchone()[0] != "UTF-8":
        raise DatabaseError(
            "this is not a bevelbook database, whatever its first bytes say",
            code="not_ours",
            place=Place(path.name),
            remedy="Nothing was changed. Look whether it is the right file.",
        )
    return step


def _is_without_odd_value(theirs: sqlite3.Connection, schema: TheirSchema, path: Path) -> bool:
    """Look for damaged pages of the tables that are read; returns whether every value belongs where it is.

    Indexes are looked into where all of them are ours, so that no expression of another's is worked out. Raises
    DatabaseError where a page is damaged; a value that does not belong where it is, is named with its record later.
    """
    is_without = True
    for name in schema.tables:
        check = "quick_check" if name in schema.with_other_indexes else "integrity_check"
        for (found,) in theirs.execute(f"PRAGMA main.{check}({quoted(name)})"):
            is_without &= found == "ok"
            if found != "ok" and not is_about_a_value(found):
                raise refuse_damaged(path, f"the table {words_of(name)} is damaged", found=found)
    return is_without


def _is_clean_at_once(copy: Path, target: Path, tables: Mapping[str, OurTable], size: int, path: Path) -> bool:
    """Whether the clean database has all rows now, and each is sound; False where one has to be found and named."""
    with closing(clean_database(target, indexed=False)) as clean, within_time(clean, size, path):
        if not is_taken_at_once(clean, copy, tables):
            return False
        add_indexes(clean, of_history_only=True)
        _leave_own_marks(clean)
        try:
            refuse_unsound(clean, path)
            keep_versions_once(clean, path)
        except sqlite3.Error as fault:
            if is_undecoded(fault):
                return False
            raise
    return True


def _fill(
    theirs: sqlite3.Connection,
    clean: sqlite3.Connection,
    step: int,
    tables: Mapping[str, OurTable],
    size: int,
    path: Path,
    tell: Callable[[str], None],
) -> None:
    """Fill it row by row, and bring it to this version."""
    clean.execute("BEGIN")
    take_rows(theirs, clean, tables, size, path)
    clean.execute("COMMIT")
    if step < LAST_STEP:
        _upgrade(clean, step, path, tell)
    else:
        add_indexes(clean, of_history_only=True)
    _leave_own_marks(clean)


def _leave_own_marks(clean: sqlite3.Connection) -> None:
    """Of what a database says about itself only this is everybody's: that it is invented or an edition, what was
    accepted."""
    clean.execute("DELETE FROM about WHERE name NOT IN (?, ?, ?)", (INVENTED, EDITION, ACCEPTED))


def _upgrade(clean: sqlite3.Connection, step: int, path: Path, tell: Callable[[str], None]) -> None:
    """Bring it to this version by our own code, and take away the triggers and views that this made."""
    clean.row_factory = sqlite3.Row
    clean.execute("PRAGMA journal_mode = MEMORY")
    if "about" in tables_of_step(step):
        refuse_odd_marks(clean, path)
    held = old_demo_in(clean)
    try:
        migrate(clean, is_invented=held == "all")
    except sqlite3.Error as fault:
        said = explained(fault, Path(path.name))
        if said.code == "disk_full":
            raise
        raise said from fault
    except BevelbookError as fault:
        raise DatabaseError(
            str(fault.what), code=fault.code, place=fault.place, found=fault.found, remedy=ASK_AGAIN
        ) from fault
    if held != "none":
        tell(SAID_OF_OLD_DEMO[held])
    drop_triggers_and_views(clean)
    clean.row_factory = None
    tell(
        f"{shown(path.name)} is of an older version (step {step} of {LAST_STEP}); a copy of it was brought to this one."
    )
