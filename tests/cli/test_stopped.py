"""A command that is stopped after it has stored, or killed on the way, and the same command again: the book is then as
one that nothing stopped. The whole of it is tried by hand with tests/trials/try_kills.py."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import click
import pytest
from killed import Moment, forked
from same_rows import same_rows, what_differs

from bevelbook.backup import dated_copy
from bevelbook.cli import main
from bevelbook.declare.errors import DatabaseError
from bevelbook.notes import importing
from bevelbook.store import opening, wiping
from bevelbook.store.closed_file import log_of
from bevelbook.store.opening import open_for_writing
from bevelbook.store.unsaid import UNSAID

Run = Callable[..., Any]
NOTES = (
    "date,builder,diff,dry_mass_g,oil_mass_g,total_mass_g,runs\n2026-05-03,ana,a,9.5,1.5,11,\n2x26-05-04,ana,a,,,,3\n"
)
COMMANDS = {
    "import": ("import", "notes.csv", "--by", "ana"),
    "weighing": ("record", "weighing", "build=b/1", "mass=10.98", "weighed_on=2026-05-02", "--by", "ana", "--yes"),
    "removed": ("record", "run", "2026-05-02/1", "--remove", "written twice", "--by", "ana"),
    "calls": ("calls", "--set", "2026-05-02/1=keep", "--by", "ana"),
    "scale": ("scale-check", "pan", "10.01", "10.02", "10.00", "10.01", "--by", "ana", "--yes"),
    "join": ("join", "diff", "b", "c", "--by", "ana"),
    "take-back": ("take-back", "--by", "ana"),
    "erase": ("erase", "person", "bo", "--yes"),
    "kept": ("calc", "fill-target", "--dry-mass", "9.5g", "--oil-mass", "1.5g", "--keep"),
    "plan": ("plan", "--keep", "--by", "ana"),
    "put by": ("check", "--put-by", "b/1 not weighed", "soon"),
    "backup": ("backup",),
}


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a small book, and what the commands read."""
    folder = tmp_path_factory.mktemp("prepared")
    (folder / "notes.csv").write_text(NOTES, encoding="utf-8")
    (folder / "first.csv").write_text(
        "date,builder,diff,dry_mass_g,oil_mass_g,total_mass_g,runs,result_note\n"
        "2026-05-01,bo,b,9.5,1.5,11,,\n2026-05-01,bo,c,9.6,1.5,11.1,,\n2026-05-02,bo,b,,,,3,bo says fine\n",
        encoding="utf-8",
    )
    begun = (
        ("new",),
        ("import", "first.csv", "--by", "ana"),
        ("record", "scale", "name=pan", "step=0.01g", "--by", "ana"),
    )

    def act(_begin: Callable[[], None]) -> int:
        os.chdir(folder)
        for words in begun:
            with pytest.raises(SystemExit) as ended:
                main(list(words))
            assert not ended.value.code
        return 0

    assert forked(act, folder / "said.txt").code == 0, (folder / "said.txt").read_text()
    return folder


@pytest.fixture
def book(prepared: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(prepared, tmp_path, dirs_exist_ok=True)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    return tmp_path / "bevelbook.db"


def copied(book: Path, folder: str) -> Path:
    """The same once more, in a folder of its own."""
    return Path(shutil.copytree(book.parent, book.parent.parent / f"{book.parent.name}-{folder}")) / book.name


@pytest.mark.parametrize("name", sorted(COMMANDS.keys() - {"erase"}))  # which prints first
def test_stopped_where_it_prints_all_is_stored_and_the_same_again_adds_nothing(
    name: str, book: Path, bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    words, before = COMMANDS[name], same_rows(book)

    def full(*_given: object, **more: object) -> None:
        if not more.get("err"):
            raise OSError(errno.EIO, "Input/output error")

    with monkeypatch.context() as failing:
        failing.setattr(click, "echo", full)
        assert bevelbook(*words).code == 2
    stored = same_rows(book, (UNSAID,))
    assert (stored == before) is (name == "backup")
    assert bevelbook(*words).code in (0, 1, 2)
    assert what_differs(stored, same_rows(book)) == []


def full_disk(*_given: object, **_more: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def locked(*_given: object, **_more: object) -> None:
    raise sqlite3.OperationalError("database is locked")


def interrupted(*_given: object, **_more: object) -> None:
    raise KeyboardInterrupt


def unusable(*_given: object, **_more: object) -> None:
    raise DatabaseError("cannot be used", code="backups_file")


AFTER_THE_COMMIT = [
    ("import", importing, "finish_report", interrupted),
    ("import", importing, "write_rejects", full_disk),
    ("weighing", opening, "_move_log", locked),
    ("erase", wiping, "_fill_where_wrong", locked),
    ("erase", wiping, "_is_log_empty", interrupted),
    ("backup", dated_copy, "note_of", full_disk),
    ("backup", dated_copy.CopiesNoted, "add", unusable),
]


@pytest.mark.parametrize(("name", "where", "step", "fault"), AFTER_THE_COMMIT)
def test_each_step_after_it_was_stored_may_fail_once(
    name: str, where: Any, step: str, fault: Any, book: Path, bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = copied(book, "usual")
    monkeypatch.chdir(usual.parent)
    bevelbook(*COMMANDS[name])
    monkeypatch.chdir(book.parent)
    with monkeypatch.context() as failing:
        failing.setattr(where, step, fault)
        bevelbook(*COMMANDS[name])
    assert bevelbook(*COMMANDS[name]).code in (0, 1)
    assert what_differs(same_rows(usual), same_rows(book)) == []


@pytest.mark.parametrize("name", ["import", "take-back"])
@pytest.mark.parametrize("step", ["before COMMIT", "after COMMIT"])
def test_killed_about_the_commit_it_is_all_or_nothing(name: str, step: str, book: Path) -> None:
    def act(_begin: Callable[[], None]) -> object:
        os.chdir(book.parent)
        return main(list(COMMANDS[name]))

    before, said = same_rows(book), book.with_name("said.txt")
    usual = copied(book, "usual")
    steps = forked(lambda _begin: (os.chdir(usual.parent), main(list(COMMANDS[name]))), said).steps
    at = max(place for place, (one, _) in enumerate(steps) if one == step)
    ended = forked(act, said, Moment(at))
    assert ended.code == -signal.SIGKILL
    assert same_rows(book, (UNSAID,)) == (before if step == "before COMMIT" else same_rows(usual))
    assert forked(act, said).code in (0, 1)
    assert what_differs(same_rows(usual), same_rows(book)) == []


def test_a_large_log_is_emptied_once_nobody_reads_what_was_there_before(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opening, "LARGE_LOG_PAGES", 1)
    monkeypatch.setattr(opening, "_LONGEST_MS", 0)
    with closing(open_for_writing(book)) as connection, closing(sqlite3.connect(book)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM people").fetchone()
        for is_read in (True, False):
            with opening.transaction(connection, book):
                connection.execute("INSERT INTO about (name, value) VALUES (?, 'x')", (f"tried {is_read}",))
            assert bool(log_of(book).stat().st_size) is is_read
            reader.rollback()
