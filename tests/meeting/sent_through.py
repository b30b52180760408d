"""Takes what was sent through the whole way: the door, two laptops that it meets in different orders, and twice."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from conftest import empty_database
from demo_book import demo_book
from meeting.whole_content import whole_content
from released import released

from bevelbook.declare.errors import BevelbookError
from bevelbook.interchange.write_export import write_export
from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.union import merge_into
from bevelbook.store.migrate import renew_where_other
from bevelbook.store.opening import open_for_writing


def whole_base(folder: Path, *, of_demo: bool = False) -> Path:
    """A database with an export beside it, and a plain copy without triggers and views."""
    path = folder / "base.db"
    if of_demo:
        demo_book(path)
    else:
        open_for_writing(released(path)).close()
    with closing(open_for_writing(path)) as connection:
        write_export(connection, path, folder / "export", part=None)
    shutil.copy(path, folder / "bare.db")
    with closing(sqlite3.connect(folder / "bare.db")) as bare:
        bare.execute("PRAGMA journal_mode = DELETE")
        with bare:
            for sort, name in bare.execute(
                "SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view') ORDER BY type, name"
            ).fetchall():
                bare.execute(f"DROP {sort} {name}")
    return path


def outcome(sent: Path, base: Path, folder: Path) -> str:
    """What became of it, in a word; raises where something is not as it should be."""
    before = sorted((one.name, one.read_bytes()) for one in sent.parent.rglob("*") if one.is_file())
    try:
        with opened_aside(sent) as clean:
            held = clean.read_bytes()
    except BevelbookError as fault:
        assert str(fault), fault
        assert fault.remedy, fault
        after = sorted((one.name, one.read_bytes()) for one in sent.parent.rglob("*") if one.is_file())
        assert before == after, "the original was changed, or something lies beside it"
        return f"refused: {fault.code}"
    here, there = folder / "here.db", folder / "there.db"
    shutil.copy(base, here)
    shutil.copy(empty_database(folder / "empty.db"), there)
    (folder / "empty.db").unlink()
    try:
        met(here, held, folder)
        met(there, held, folder)
        with opened_aside(base) as other:
            met(there, other.read_bytes(), folder)
    except BevelbookError as fault:
        return f"refused by the meeting: {fault.code}"
    first, second = (content(one) for one in (here, there))
    assert first == second, "\n".join(sorted(set(first.splitlines()) ^ set(second.splitlines()))[:20])
    met(here, held, folder)
    assert content(here) == first, "a second time changed something"
    return "taken, equal in both orders"


def met(path: Path, held: bytes, folder: Path) -> None:
    other = folder / "clean.db"
    other.write_bytes(held)
    with closing(open_for_writing(path)) as connection:
        merge_into(connection, path, other, allow_invented=True)
        renew_where_other(connection)


def content(path: Path) -> str:
    with closing(open_for_writing(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchone() is None
        return whole_content(connection)
