"""Two laptops of one team: the same database twice, changed apart, and what comes together again."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from shutil import copyfile

from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.union import Met, merge_into
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer


def copy_of(db: Path, name: str) -> Path:
    """The database as a team mate has it."""
    return Path(copyfile(db, db.with_name(f"{name}.db")))


def merged(db: Path, other: Path) -> Met:
    """Bring the other database into the first one, as the command does."""
    with closing(open_for_writing(db)) as connection, opened_aside(other, own=db) as aside:
        return merge_into(connection, db, aside)


def changed(db: Path, by: str, kind: str, row_id: str, **values: object) -> None:
    """Change a record by its id, in an entry of somebody."""
    with closing(open_for_writing(db)) as connection, transaction(connection, db, by=by):
        Writer(connection, by).update(BY_NAME[kind], row_id, values)
