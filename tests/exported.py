"""A database with everything in it that an export has to carry, and its export."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Final, NamedTuple

from conftest import Outcome
from demo_book import demo_book
from photographed import picture

from bevelbook.interchange.write_export import write_export
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Outcome]
HOSTILE_NAME: Final = '=HYPERLINK("http://bench.invalid")\r\n\'"; 1,5 \N{DEGREE SIGN} \N{FULLWIDTH EQUALS SIGN}'
SHEET: Final = """date,diff,oil,oil mass,runs,note
2026-05-02,rear-a,house 7k,2.31,3,"line one
line two, with ""quotes""\"
2026-05-03,rear-a,house 7k,2.35,2,'quoted
not a date,rear-a,house 7k,2.35,2,
"""
"""Our own rows: one with a new line and quotes, one that begins with a guard, one that is rejected."""


class Everything(NamedTuple):
    """The database and the folder of its export."""

    db: Path
    folder: Path


_MADE: Final[list[tuple[bytes, dict[str, bytes]]]] = []
"""The database once it was made, and the files of its export: making them takes a hundred times as long as a copy."""


def make_everything(bevelbook: Run, tmp_path: Path) -> Everything:
    """The demo with a photograph, kept files, rejected rows, a taken-back record, hostile texts, and changes by another
    program; and its export."""
    made = Everything(tmp_path / "team.db", tmp_path / "season")
    if not _MADE:
        _make(bevelbook, tmp_path, made.db)
        exported(*made)
        _MADE.append((made.db.read_bytes(), bytes_of(made.folder)))
        return made
    held, files = _MADE[0]
    made.db.write_bytes(held)
    for name in ("files", "pictures"):
        (made.folder / name).mkdir(parents=True)
    for name, text in files.items():
        (made.folder / name).write_bytes(text)
    return made


def _make(bevelbook: Run, tmp_path: Path, db: Path) -> None:
    (tmp_path / "sheet.csv").write_text(SHEET, encoding="utf-8", newline="")
    (tmp_path / "groove.jpg").write_bytes(picture())
    demo_book(db)
    for words, code in (
        (("import", tmp_path / "sheet.csv"), 1),
        (("record", "person", "name=Zo\N{LATIN SMALL LETTER E WITH DIAERESIS}"), 0),
        (("take-back",), 0),
        (("record", "photo", "--file", tmp_path / "groove.jpg", "build=rear-a/1", "piece=outdrive"), 0),
        (("record", "fluid", "label=-5 % house"), 0),
    ):
        outcome = bevelbook("--db", db, "--by", "ana", *words)
        assert outcome.code == code, (words, outcome.err)
    with closing(sqlite3.connect(db)) as other:
        other.execute("UPDATE fluids SET note = ? WHERE label = '-5 % house'", (HOSTILE_NAME,))
        other.execute("UPDATE diffs SET note = '' WHERE rowid IN (SELECT max(rowid) FROM diffs)")
        other.execute("UPDATE builds SET oil_mass_g = 2.3000000000000003 WHERE rowid = 1")
        other.commit()


def exported(db: Path, folder: Path) -> None:
    """Export a database into a folder."""
    with closing(open_for_reading(db)) as connection:
        write_export(connection, db, folder)


def bytes_of(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by its name in it, with its bytes; but for what SQLite lays beside a database it reads."""
    files = [path for path in folder.rglob("*") if path.is_file() and not path.name.endswith(("-shm", "-wal"))]
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}
