"""What is tried when it is killed, out of room, or on a disk that cannot be written: each a command on a small book.

Every case has a folder with the book ``team.db`` and what the command reads; all of it is invented.
"""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, Final, NamedTuple

sys.path.append(str(Path(__file__).parents[1]))  # where the helpers are, when run by hand

from benchmarks.generated_sheets import write_mixed
from killed import forked
from released import released

from bevelbook.cli import main
from bevelbook.store.ids import new_id

BOOK: Final = "team.db"
KEY: Final = new_id()
Act = Callable[[Callable[[], None]], object]


class Case(NamedTuple):
    """One operation: how its folder is made, what is done there, and the exit codes with which that ends well."""

    name: str
    make: Callable[[Path], None]
    act: Act
    codes: frozenset[int] = frozenset({0})
    again: frozenset[int] = frozenset({0})
    """With what it may end where it was done already."""
    holds: str = BOOK
    """The database that is compared."""
    is_new: bool = False
    """Whether there is no database before."""
    between: tuple[str, ...] = ()
    """What a row begins with that stands there until the command is at its end, in words of ours."""
    says: str = ""
    """Words after which nobody does it again, since that would mean something else."""
    has_parts: bool = False
    """Whether it is several transactions, each all or nothing."""
    beside: tuple[str, ...] = ()
    """Files that a repeat may leave once more under a name with a number: copies, which stay until a person removes
    them."""


def command(*words: str) -> Act:
    """A command in this process."""

    def act(_begin: Callable[[], None]) -> object:
        main(list(words))

    return act


def on_book(*words: str) -> Act:
    """A command on the book."""
    return command("--db", BOOK, *words)


def _weighed(build: str) -> tuple[str, ...]:
    return (f"build={build}", "mass=13.79", "weighed_on=2025-03-01", "--by", "ana", "--yes")


def begun(folder: Path, *commands: tuple[str, ...]) -> None:
    """Run commands that all end well, each in a process of its own."""
    for words in commands:
        ended = forked(in_folder(folder, command(*words)), folder.parent / "made.txt", says_when=True)
        if ended.code not in (0, 1):
            raise SystemExit(f"{words}: {ended.code}\n{ended.said}")


def in_folder(folder: Path, act: Act) -> Act:
    """The same in a folder of its own, with its own settings and its own temporary files."""

    def moved(begin: Callable[[], None]) -> object:
        os.chdir(folder)
        beside = folder.parent / "beside"
        for name in ("XDG_CONFIG_HOME", "XDG_CACHE_HOME", "TMPDIR", "SQLITE_TMPDIR"):
            own = beside / name.lower()
            own.mkdir(parents=True, exist_ok=True)
            os.environ[name] = str(own)
        import tempfile

        tempfile.tempdir = os.environ["TMPDIR"]
        if act is not _entered:
            begin()
        return act(begin)

    return moved


def _mixed(path: Path, rows: int, *, every: int = 97) -> None:
    """Notes of which one row in so many is rejected."""
    write_mixed(path, rows)
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    for number in range(every, len(lines), every):
        lines[number] = lines[number].replace("20", "2x", 1)
    path.write_text("".join(lines), encoding="utf-8")


def _empty(folder: Path) -> None:
    begun(folder, ("--db", BOOK, "new"))


def _to_import(folder: Path) -> None:
    _empty(folder)
    _mixed(folder / "notes.csv", 3_000)


def _book(folder: Path) -> None:
    """A book of some 100 rows, by ana."""
    _empty(folder)
    _mixed(folder / "first.csv", 100)
    begun(
        folder,
        ("--db", BOOK, "import", "first.csv", "--by", "ana", "--no-rejects"),
        ("--db", BOOK, "record", "idea", "text=ana says: try 7k", "--by", "ana"),
        (
            "--db",
            BOOK,
            "record",
            "weighing",
            "build=U0001",
            "mass=13.79",
            "weighed_on=2025-03-01",
            "--by",
            "ana",
            "--yes",
        ),
    )


def _two_laptops(folder: Path) -> None:
    _book(folder)
    shutil.copyfile(folder / BOOK, folder / "bo.db")
    _mixed(folder / "second.csv", 300)
    begun(
        folder,
        ("--db", "bo.db", "import", "second.csv", "--by", "bo", "--no-rejects"),
        ("--db", "bo.db", "record", "idea", "text=bo says: try 5k", "--by", "bo"),
        ("--db", BOOK, "record", "idea", "text=try 9k", "--by", "ana"),
    )


def _older(folder: Path) -> None:
    released(folder / BOOK)


def _with_table(folder: Path) -> None:
    _book(folder)
    rows = "".join(f"{9 + n / 100:.2f},{1.5 + n / 1000:.3f},0.01\n" for n in range(300))
    (folder / "table.csv").write_text("dry_mass_g,oil_mass_g,scale_step_g\n" + rows, encoding="utf-8")


def _with_copy(folder: Path) -> None:
    _book(folder)
    begun(
        folder,
        ("--db", BOOK, "backup", "--to", "."),
        ("--db", BOOK, "record", "idea", "text=since the copy", "--by", "ana"),
    )
    (copy,) = folder.glob("team-2*.db")
    copy.rename(folder / "copy.db")


def _entered(begin: Callable[[], None]) -> object:
    """A form that a phone sends; the server begins before what is tried."""
    from browser_team import Team
    from entered import entered_site

    from bevelbook.declare.errors import BevelbookError
    from bevelbook.plugin.registry import load
    from bevelbook.web.host.startup import CannotServe

    try:
        with entered_site(Team(Path(BOOK), {}), load(), Path("settings")) as site:
            site.get("/team/-/enter/idea")
            begin()
            answer = site.post("/team/-/enter/idea", {"key": KEY, "text": "sent by a phone"})
    except (BevelbookError, CannotServe) as fault:  # the command says it in these words
        print(f"bevelbook: {fault}")
        return 2
    if answer.status_code == 303:
        return 0
    print(
        f"bevelbook: {answer.status_code}:",
        " ".join(re.sub(r"<[^>]+>", " ", answer.text.partition("<main")[2]).split()),
    )
    return 2


WELL: Final = frozenset({0, 1})
THERE: Final = frozenset({0, 2})
"""Where what a command makes is there already, it is refused."""
CASES: Final = (
    Case("import", _to_import, on_book("import", "notes.csv", "--by", "ana"), WELL),
    Case("merge", _two_laptops, on_book("merge", "bo.db"), WELL, beside=("before-merge",)),
    Case("upgrade", _older, on_book("new", "--migrate"), beside=("before-step",)),
    Case("batch", _book, on_book("calc", "leak-trend", "--all", "build", "--keep"), WELL),
    Case(
        "rows",
        _with_table,
        on_book("calc", "fill-target", "--rows", "table.csv", "--keep", "--to", "out.csv"),
        WELL,
        again=THERE,
    ),
    Case("entry", _book, _entered),
    Case("record", _book, on_book("record", "weighing", *_weighed("U0002"))),
    Case(
        "take-back",
        _book,
        on_book("take-back", "--by", "ana"),
        between=("taken back, and not said",),
        says="To bring it back",
    ),
    Case("erase", _book, on_book("erase", "person", "ana", "--yes"), WELL, between=("erased, and still",)),
    Case("plan", _book, on_book("plan", "--keep", "--by", "ana")),
    Case("edition", _book, on_book("edition", "for-all", "--yes")),
    Case("static", _book, on_book("edition", "for-all", "--yes", "--static")),
    Case("export", _book, on_book("export", "open")),
    Case("zip", _book, on_book("export", "open.zip"), again=THERE),
    Case("backup", _book, on_book("backup"), beside=("team-N",)),
    Case("way-back", _with_copy, on_book("backup", "--bring-back", "copy.db"), beside=("before-bring-back",)),
    Case("new", lambda _folder: None, on_book("new"), again=THERE, is_new=True),
    Case(
        "new-from",
        _with_copy,
        command("--db", "second.db", "new", "--from", "copy.db"),
        again=THERE,
        holds="second.db",
        is_new=True,
    ),
    Case("demo", lambda _folder: None, on_book("demo"), is_new=True, has_parts=True),
)


def case_named(name: str) -> Case:
    """The case of that name. Raises SystemExit for one that is not there."""
    found = next((one for one in CASES if one.name == name), None)
    if found is None:
        raise SystemExit(f"no case {name}; there are {', '.join(one.name for one in CASES)}")
    return found


def faults_in(path: Path) -> list[str]:
    """What is wrong with a database: its pages, references, searches; empty where it is sound."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            return list(_faults(connection))
    except sqlite3.DatabaseError as fault:
        return [str(fault)]


def _faults(connection: sqlite3.Connection) -> Iterator[str]:
    from bevelbook.store.searching import wrong_searches

    for check in ("integrity_check", "foreign_key_check"):
        said: list[Any] = connection.execute(f"PRAGMA {check}").fetchall()
        if said not in ([], [("ok",)]):
            yield f"{check}: {said[:3]}"
    if connection.execute("PRAGMA user_version").fetchone()[0] >= 5:
        yield from (f"search of {one.table}" for one in wrong_searches(connection))
