"""An export read back: equal in every row, and whatever is wrong with its folder is named, with nothing left behind."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from exported import Everything, bytes_of

from bevelbook.declare.errors import DatabaseError
from bevelbook.interchange.export_folder import refuse_unless_replaceable
from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.interchange.read_export import FIRST_STEP, read_export
from bevelbook.interchange.write_export import write_export
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import SchemaStep, frozen_steps
from bevelbook.store.schema import APPLICATION_ID

Change = Callable[[Path], object]


def rows_of(connection: sqlite3.Connection, table: str) -> list[tuple[object, ...]]:
    """Every row of a table with the types of its values, by the columns that an export has."""
    names = next(one.names for one in exported_tables() if one.name == table)
    if table == "note_bytes":
        names = ("sha256",)
    elif table == "picture_bytes":
        names = ("sha256", "thumbnail", "jpeg")
    asked = ", ".join(f'"{name}", typeof("{name}")' for name in names)
    order = "table_name, row_id, id" if table == "history" else ", ".join(f'"{name}"' for name in names)
    return connection.execute(f"SELECT {asked} FROM {table} ORDER BY {order}").fetchall()


def test_every_row_comes_back_as_it_was(everything: Everything, tmp_path: Path) -> None:
    aside = tmp_path / "aside.db"
    read = read_export(everything.folder, aside)
    assert (read.step, read.invented, read.part) == (LAST_STEP, True, None)
    with closing(sqlite3.connect(everything.db)) as before, closing(sqlite3.connect(aside)) as after:
        for table in exported_tables():
            assert rows_of(after, table.name) == rows_of(before, table.name), table.name
        assert after.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
        assert after.execute("PRAGMA user_version").fetchone()[0] == LAST_STEP
        assert after.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert after.execute("SELECT count(*) FROM sqlite_master WHERE type IN ('view', 'trigger')").fetchone()[0] == 0
        assert after.execute("SELECT name FROM about").fetchall() == [("invented",)]
        assert is_invented(after)


def test_what_a_computer_adds_to_a_folder_is_passed_over(everything: Everything, tmp_path: Path) -> None:
    for name in (".DS_Store", "Thumbs.db", "._builds.csv", "files/.DS_Store", "pictures/desktop.ini"):
        (everything.folder / name).write_bytes(b"x")
    read_export(everything.folder, tmp_path / "aside.db")
    refuse_unless_replaceable(everything.folder)


def test_exported_again_it_gives_the_same_bytes(everything: Everything, tmp_path: Path) -> None:
    aside, again = tmp_path / "aside.db", tmp_path / "again"
    read_export(everything.folder, aside)
    with closing(sqlite3.connect(aside)) as connection:
        write_export(connection, aside, again)
    assert bytes_of(again) == bytes_of(everything.folder)


def test_a_database_that_is_empty_and_not_invented_comes_back_so(db: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(db)) as connection:
        write_export(connection, db, tmp_path / "nothing")
    read = read_export(tmp_path / "nothing", tmp_path / "aside.db")
    assert (read.invented, set(read.rows.values())) == (False, {0})


def refused(folder: Path, aside: Path) -> DatabaseError:
    """The error of reading it; nothing is left behind and nothing of the folder is changed."""
    before = bytes_of(folder)
    with pytest.raises(DatabaseError) as found:
        read_export(folder, aside)
    assert not aside.exists()
    assert bytes_of(folder) == before
    assert found.value.remedy
    return found.value


def described(folder: Path, change: Callable[[dict[str, Any]], None]) -> None:
    """Change what the folder says of itself."""
    path = folder / "datapackage.json"
    said = json.loads(path.read_bytes())
    change(said)
    path.write_text(json.dumps(said), encoding="utf-8")


def forged(folder: Path, name: str, change: Callable[[bytes], bytes], rows: int = 0) -> None:
    """Change a file, and what the folder says of it, as whoever wants it to be taken would."""
    held = change((folder / name).read_bytes())
    (folder / name).write_bytes(held)

    def restate(said: dict[str, Any]) -> None:
        one = next(one for one in said["resources"] if one["path"] == name)
        digest = hashlib.sha256(held).hexdigest()
        one |= {"bytes": len(held), "hash": f"sha256:{digest}", "rows": one["rows"] + rows}

    described(folder, restate)


def replacing(name: str, old: bytes, new: bytes, rows: int = 0) -> Change:
    def change(folder: Path) -> None:
        assert old in (folder / name).read_bytes()
        forged(folder, name, lambda held: held.replace(old, new, 1), rows)

    return change


def line(name: str, number: int, change: Callable[[list[bytes]], list[bytes]]) -> Change:
    """Change the cells of a line that has neither quotes nor commas inside of a cell."""

    def of_file(held: bytes) -> bytes:
        lines = held.split(b"\n")
        lines[number - 1] = b",".join(change(lines[number - 1].split(b",")))
        return b"\n".join(lines)

    return lambda folder: forged(folder, name, of_file)


def cell(name: str, number: int, column: str, value: str) -> Change:
    names = next(one.names for one in exported_tables() if one.path == name)
    place = names.index(column)
    return line(
        name, number, lambda cells: [*cells[:place], value.encode(errors="surrogateescape"), *cells[place + 1 :]]
    )


def no_longer(name: str) -> Change:
    return lambda folder: (folder / name).unlink()


def renamed(name: str, other: str) -> Change:
    return lambda folder: _renamed(folder / name, folder / other)


def _renamed(path: Path, other: Path) -> None:
    path.rename(other)


def linked(name: str) -> Change:
    def change(folder: Path) -> None:
        held = folder / name
        elsewhere = folder.parent / f"elsewhere-{held.name}"
        held.rename(elsewhere)
        held.symlink_to(elsewhere)

    return change


def says(**values: object) -> Change:
    return lambda folder: described(folder, lambda said: said["bevelbook"].update(values))


def of_resource(table: str, **values: object) -> Change:
    def restate(said: dict[str, Any]) -> None:
        next(one for one in said["resources"] if one["name"] == table).update(values)

    return lambda folder: described(folder, restate)


def written(name: str, held: bytes) -> Change:
    return lambda folder: _write(folder / name, held)


def _write(path: Path, held: bytes) -> None:
    path.write_bytes(held)


BAD: dict[str, tuple[Change, str, str]] = {
    "no such file": (no_longer("runs.csv"), "export_files", "runs.csv is missing"),
    "renamed": (renamed("runs.csv", "Runs 2.csv"), "export_files", "runs.csv is missing; Runs 2.csv is there instead"),
    "one more": (written("wheels.csv", b"id\n"), "export_files", "wheels.csv: there is a file that does not belong"),
    "mended by hand": (
        lambda folder: _write(folder / "runs.csv", (folder / "runs.csv").read_bytes().replace(b"keep", b"lose", 1)),
        "export_mended",
        "runs.csv: it was changed after it was written. An export is a picture",
    ),
    "rows in another order": (
        lambda folder: _write(folder / "cars.csv", b"\n".join(sorted((folder / "cars.csv").read_bytes().split(b"\n")))),
        "export_mended",
        "cars.csv: it was changed",
    ),
    "no description": (no_longer("datapackage.json"), "export_files", "datapackage.json is missing"),
    "description is not JSON": (
        written("datapackage.json", b"{"),
        "export_damaged",
        "it is not JSON",
    ),
    "description too deep": (written("datapackage.json", b"[" * 100_000), "export_damaged", "it is not JSON"),
    "another data package": (written("datapackage.json", b'{"resources": []}'), "not_an_export", "not an export of"),
    "newer": (says(step=LAST_STEP + 1), "export_newer", "made by a newer version (step"),
    "no step": (says(step="4"), "export_damaged", "what it says of its version"),
    "step before exports": (says(step=FIRST_STEP - 1), "export_damaged", "what it says of its version"),
    "true in place of a step": (says(step=True), "export_damaged", "what it says of its version"),
    "part without words": (says(part={"since": 5, "with_files": True}), "export_damaged", "what it says of its part"),
    "path of a file": (
        of_resource("runs", path="../runs.csv"),
        "export_files",
        "it names a file",
    ),
    "absolute path": (
        of_resource("runs", name="/etc/x", path="/etc/x.csv"),
        "export_files",
        "a table that this",
    ),
    "address": (of_resource("runs", path="http://bench.invalid/runs.csv"), "export_files", "it names a file"),
    "another table": (of_resource("runs", name="wheels", path="wheels.csv"), "export_files", "a table that this"),
    "a table of ours that is not exported": (
        of_resource("runs", name="about", path="about.csv"),
        "export_files",
        'table that this version does not know, found "about"',
    ),
    "twice": (of_resource("runs", name="cars", path="cars.csv"), "export_files", "it names a file"),
    "hash of nothing": (of_resource("runs", hash="md5:0"), "export_damaged", "rows, bytes or hash"),
    "rows are not counted": (of_resource("runs", rows=3), "export_mended", "rows, and 3 were written"),
    "no resources": (
        lambda folder: described(folder, lambda said: said.pop("resources")),
        "export_files",
        "is missing",
    ),
    "file is a link": (linked("cars.csv"), "export_link", "cars.csv: it is a link"),
    "description is a link": (linked("datapackage.json"), "export_link", "datapackage.json: it is a link"),
    "folder of files is a link": (linked("files"), "export_link", "files: it is a link"),
    "folder in place of a file": (
        lambda folder: ((folder / "cars.csv").unlink(), (folder / "cars.csv").mkdir()),
        "export_files",
        "cars.csv: it is not what an export has there",
    ),
    "column renamed": (
        replacing("cars.csv", b",name,", b",title,"),
        "export_columns",
        "the column title is there instead of name",
    ),
    "column missing": (
        replacing("cars.csv", b",name,", b","),
        "export_columns",
        "line 1: the column name is",
    ),
    "column added": (replacing("cars.csv", b",name,", b",name,wheels,"), "export_columns", "wheels does not belong"),
    "columns in another order": (
        replacing("cars.csv", b"id,version,", b"version,id,"),
        "export_columns",
        "the columns stand in another order",
    ),
    "byte order mark": (
        lambda folder: forged(folder, "cars.csv", lambda held: b"\xef\xbb\xbf" + held),
        "export_columns",
        "cars.csv, line 1",
    ),
    "semicolons": (
        lambda folder: forged(folder, "cars.csv", lambda held: held.replace(b",", b";")),
        "export_columns",
        "cars.csv, line 1",
    ),
    "row too wide": (line("cars.csv", 3, lambda cells: [*cells, b"x"]), "export_value", "cars.csv, line 3: a row has"),
    "row too short": (line("cars.csv", 3, lambda cells: cells[:-1]), "export_value", "cars.csv, line 3: a row has"),
    "empty line": (line("cars.csv", 3, lambda cells: []), "export_value", "cars.csv, line 3: a row has"),
    "not UTF-8": (cell("cars.csv", 3, "name", "\udcff"), "export_value", "line 3: it is not UTF-8"),
    "quote without end": (cell("cars.csv", 3, "name", '"x'), "export_value", "cars.csv, line"),
    "text for a number": (
        cell("builds.csv", 4, "dry_mass_g", "heavy"),
        "export_value",
        "builds.csv, line 4, dry_mass_g",
    ),
    "infinite": (cell("builds.csv", 4, "dry_mass_g", "INF"), "export_value", "builds.csv, line 4, dry_mass_g: not a"),
    "too large": (
        cell("builds.csv", 4, "dry_mass_g", "1e999"),
        "export_value",
        "dry_mass_g: not a number, or not finite",
    ),
    "guarded number": (cell("builds.csv", 4, "dry_mass_g", "'12"), "export_value", "line 4, dry_mass_g"),
    "part of a whole": (cell("builds.csv", 4, "note_line", "1.5"), "export_value", "builds.csv, line 4, note_line"),
    "out of bounds": (cell("builds.csv", 4, "dry_mass_g", "-3"), "export_value", "line 4: a row that no"),
    "word of no list": (cell("builds.csv", 4, "kind", "wheel"), "export_value", "line 4: a row that no"),
    "no such day": (
        cell("builds.csv", 4, "built_on", "2026-02-30"),
        "export_value",
        "builds.csv, line 4: a row that no",
    ),
    "nothing where something is needed": (cell("builds.csv", 4, "label", ""), "export_value", "builds.csv, line 4"),
    "not JSON": (cell("builds.csv", 4, "entered", "{"), "export_value", "builds.csv, line 4"),
    "row twice": (
        lambda folder: forged(folder, "cars.csv", lambda held: held + held.split(b"\n")[1] + b"\n", rows=1),
        "export_value",
        "cars.csv, line 6: a row that no",
    ),
    "reference to nothing": (
        cell("builds.csv", 4, "diff", "00000000-0000-8000-8000-000000000000"),
        "export_reference",
        "builds.csv, line 4: this row refers to a row of diffs that is not there",
    ),
    "kept file changed": (
        lambda folder: _write(next((folder / "files").iterdir()), b"another sheet"),
        "export_mended",
        ": it was changed after it was written",
    ),
    "kept file missing": (
        lambda folder: next((folder / "files").iterdir()).unlink(),
        "export_files",
        " is missing",
    ),
    "kept file too many": (written("files/x", b"x"), "export_files", "files/x: there is a file that does not belong"),
    "kept file is a link": (
        lambda folder: linked(f"files/{next((folder / 'files').iterdir()).name}")(folder),
        "export_link",
        "it is a link",
    ),
    "hash with a path": (
        line("note_bytes.csv", 2, lambda cells: [b"../../etc/passwd", *cells[1:]]),
        "export_value",
        "this is not the hash of a file",
    ),
    "small picture changed": (
        lambda folder: _write(next((folder / "pictures").glob("*.small.jpg")), b"\xff\xd8\xff"),
        "export_mended",
        ".small.jpg: it was changed",
    ),
    "pictures gone": (
        lambda folder: shutil.rmtree(folder / "pictures"),
        "export_files",
        ".jpg is missing",
    ),
}


@pytest.mark.parametrize("what", sorted(BAD))
def test_a_folder_that_is_not_as_it_was_written_is_refused(what: str, everything: Everything, tmp_path: Path) -> None:
    change, code, words = BAD[what]
    change(everything.folder)
    fault = refused(everything.folder, tmp_path / "aside.db")
    assert (fault.code, words in str(fault)) == (code, True), str(fault)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_in_place_of_a_file_is_not_waited_for(everything: Everything, tmp_path: Path) -> None:
    (everything.folder / "cars.csv").unlink()
    os.mkfifo(everything.folder / "cars.csv")
    with pytest.raises(DatabaseError, match=r"cars\.csv: it is not what an export has there"):
        read_export(everything.folder, tmp_path / "aside.db")


def test_a_line_is_counted_over_cells_of_several_lines(everything: Everything, tmp_path: Path) -> None:
    """As a text editor counts them: the note before has two lines."""
    path = everything.folder / "note_extras.csv"
    names = path.read_bytes()
    rows = [b'a,"x\r\ny\nz\rw",1,{}', b"b,f,2,{}", b"c,f,two,{}"]
    forged(everything.folder, "note_extras.csv", lambda _held: names + b"\n".join([*rows, b""]), rows=3)
    fault = refused(everything.folder, tmp_path / "aside.db")
    assert 'note_extras.csv, line 7, line: not a whole number, or too large, found "two"' in str(fault)


def test_an_export_of_an_older_step_is_upgraded(everything: Everything, tmp_path: Path) -> None:
    """Today there is no later step: this one stands for it, in the way that a column is added."""
    later = SchemaStep(LAST_STEP + 1, "a colour", ("ALTER TABLE cars ADD COLUMN colour TEXT DEFAULT 'red'",))
    aside = tmp_path / "aside.db"
    read = read_export(everything.folder, aside, steps=(*frozen_steps(), later))
    assert read.step == LAST_STEP
    with closing(sqlite3.connect(aside)) as connection, closing(sqlite3.connect(everything.db)) as before:
        assert connection.execute("SELECT DISTINCT colour FROM cars").fetchall() == [("red",)]
        assert connection.execute("PRAGMA user_version").fetchone()[0] == LAST_STEP + 1
        assert (
            connection.execute("SELECT count(*) FROM sqlite_master WHERE type IN ('view', 'trigger')").fetchone()[0]
            == 0
        )
        assert rows_of(connection, "runs") == rows_of(before, "runs")
