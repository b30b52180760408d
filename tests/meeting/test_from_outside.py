"""The one door for what is sent: a database, the folder of an export, a zip of either. All of it is invented."""

from __future__ import annotations

import random
import shutil
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from edited_rows import edit_rows
from flipped import flipped
from meeting.sent_through import outcome, whole_base
from released import released

from bevelbook.declare.errors import DatabaseError
from bevelbook.interchange.write_export import write_export
from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.their_schema import tables_of_step
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opening import open_for_writing

OWN = (("history", "id"), ("note_bytes", "packed"))


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database brought to this version, and its export beside it."""
    path = released(tmp_path_factory.mktemp("held") / "bo.db")
    with closing(open_for_writing(path)) as connection:
        write_export(connection, path, path.with_name("export"), part=None)
    return path


def content(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Rows by table, without what is a file's own: places of rows, what it says about itself, how files are packed."""
    found = {}
    with closing(sqlite3.connect(path)) as connection:
        for name, table in tables_of_step(LAST_STEP).items():
            columns = [column.name for column in table.structure.columns]
            listed = ", ".join(
                f'"{one}"' for one in columns if (name, one) not in (("history", "id"), ("note_bytes", "packed"))
            )
            found[name] = sorted(connection.execute(f"SELECT {listed} FROM {name}").fetchall(), key=repr)
    del found["about"]
    return found


def zipped(path: Path, target: Path, inside: str = "") -> Path:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as made:
        for one in sorted(path.rglob("*")) if path.is_dir() else [path]:
            if one.is_file():
                made.write(one, inside + (one.relative_to(path).as_posix() if path.is_dir() else one.name))
    return target


@pytest.mark.parametrize("way", ["database", "folder", "zip", "zip with a folder", "zip of the database"])
def test_each_way_of_sending_gives_the_same_rows(held: Path, tmp_path: Path, way: str) -> None:
    export = held.with_name("export")
    sent = {
        "database": lambda: held,
        "folder": lambda: export,
        "zip": lambda: zipped(export, tmp_path / "bo.zip"),
        "zip with a folder": lambda: zipped(export, tmp_path / "bo.zip", "Bo's book/"),
        "zip of the database": lambda: zipped(held, tmp_path / "bo.zip"),
    }[way]()
    with opened_aside(sent) as clean:
        assert content(clean) == content(held)
        with closing(sqlite3.connect(clean)) as connection:
            assert {sort for (sort,) in connection.execute("SELECT type FROM sqlite_master")} == {"table", "index"}
            assert connection.execute("SELECT name FROM about").fetchall() == []


def test_what_is_wrong_inside_a_zip_names_the_zip_and_the_file_in_it(held: Path, tmp_path: Path) -> None:
    export = Path(shutil.copytree(held.with_name("export"), tmp_path / "export"))
    (export / "builds.csv").write_text("id,label\n", encoding="utf-8")
    path = zipped(export, tmp_path / "bo.zip")
    with pytest.raises(DatabaseError) as caught, opened_aside(path):
        pass
    assert str(caught.value).startswith("bo.zip, builds.csv")
    assert "aside" not in str(caught.value)


def test_what_is_wrong_in_a_database_inside_a_zip_names_the_zip(held: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(held, tmp_path / "bo.db"))
    path.write_bytes(path.read_bytes()[:50_000])
    with pytest.raises(DatabaseError) as caught, opened_aside(zipped(path, tmp_path / "bo.zip")):
        pass
    assert str(caught.value).startswith("bo.zip: ")


def test_a_folder_of_anything_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text("a")
    with pytest.raises(DatabaseError) as caught, opened_aside(tmp_path):
        pass
    assert "Traceback" not in str(caught.value)


def test_rows_of_an_export_are_looked_at_as_those_of_a_database(held: Path, tmp_path: Path) -> None:
    """A stranger may write an export by hand, hashes and all."""
    path = Path(shutil.copy(held, tmp_path / "bo.db"))
    with closing(open_for_writing(path)) as connection:
        connection.execute("UPDATE note_files SET name = '../../x.csv'")
        write_export(connection, path, tmp_path / "export", part=None)
    with pytest.raises(DatabaseError, match="plain name of a file") as caught, opened_aside(tmp_path / "export"):
        pass
    assert caught.value.code == "other_row"


def test_flips_and_cuts_end_in_a_sentence_or_in_rows_that_the_tool_may_have_written(held: Path, tmp_path: Path) -> None:
    """A few here; more were tried by hand with ``tests/benchmarks/flip_what_is_sent.py``."""
    draw = random.Random(11)
    whole = held.read_bytes()
    refused = 0
    for _ in range(12):
        path = tmp_path / "bo.db"
        path.write_bytes(flipped(whole, draw))
        try:
            with opened_aside(path) as clean:
                assert content(clean)
        except DatabaseError as fault:
            assert fault.remedy
            refused += 1
    assert refused


def test_what_comes_through_the_door_is_the_same_on_two_laptops_in_any_order(tmp_path: Path) -> None:
    """Two files whose rows somebody edited who knows how a database is kept; more by hand, with the same script."""
    base = whole_base(tmp_path)
    said = []
    (tmp_path / "sent").mkdir()
    for seed in range(2):
        path = Path(shutil.copy(base.with_name("bare.db"), tmp_path / "sent" / "bo.db"))
        edit_rows(path, random.Random(seed))
        said.append(outcome(path, base, tmp_path))
    assert "taken, equal in both orders" in said
