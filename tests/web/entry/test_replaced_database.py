"""The file of the book is replaced while it is served with entry: by another book, or by a copy of the same one."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from web.entry.conftest import PairedSite, words

from bevelbook.store.book_mark import mark_of
from bevelbook.store.ids import new_id
from bevelbook.store.opening import new_database

IDEA = "/team/-/enter/idea"


def copy_of(path: Path, target: Path) -> Path:
    with closing(sqlite3.connect(path)) as connection, closing(sqlite3.connect(target)) as copy:
        connection.backup(copy)
    return target


def replaced(path: Path, other: Path) -> None:
    for beside in ("-wal", "-shm"):
        path.with_name(f"{path.name}{beside}").unlink(missing_ok=True)
    other.rename(path)


def test_another_book_in_its_place_takes_no_entry(paired_site: PairedSite, tmp_path: Path) -> None:
    paired_site.send(IDEA, {"key": new_id(), "text": "before"})
    with closing(new_database(tmp_path / "other.db")) as connection:
        mark_of(connection)
    before = (tmp_path / "other.db").read_bytes()
    replaced(paired_site.team.path, tmp_path / "other.db")
    answer = paired_site.post(IDEA, {"key": new_id(), "text": "typed <b>words</b>"})
    assert answer.status_code >= 400
    assert "another database is in the place of this one now" in words(answer.text).lower()
    assert "typed &lt;b&gt;words&lt;/b&gt;" in answer.text
    assert paired_site.team.path.read_bytes() == before, "nothing was changed in it"
    for address in ("/", "/team/-/afternoon", IDEA):
        assert "Another book is in the place of this one now" in words(paired_site.page(address))


def test_a_copy_of_the_same_book_goes_on(paired_site: PairedSite, tmp_path: Path) -> None:
    copy = copy_of(paired_site.team.path, tmp_path / "copy.db")
    paired_site.send(IDEA, {"key": new_id(), "text": "lost with the file"})
    replaced(paired_site.team.path, copy)
    page = paired_site.send(IDEA, {"key": new_id(), "text": "after"})
    assert "Stored: added idea after" in words(page)
    assert "Another book" not in page
    assert "lost with the file" not in words(paired_site.page("/team/ideas"))
