"""What a command says of a file that another program wrote, or that is none of ours: which record it is, and what to
do. What is wrong is written by the tests with SQL, past the checks. All data are invented."""

from __future__ import annotations

import io
import re
import shlex
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest
from conftest import Outcome

Run = Callable[..., Outcome]


def spoiled(path: Path, statement: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute(statement)
        connection.commit()


@pytest.fixture
def book(bevelbook: Run, db: Path) -> Path:
    assert bevelbook("--db", db, "--by", "ana", "record", "diff", "label=rear-a").code == 0
    build = ("record", "build", "diff=rear-a", "built_on=2026-05-02", "dry_mass=9.5g", "--yes")
    assert bevelbook("--db", db, "--by", "ana", *build).code == 0
    return db


def test_a_merge_names_the_text_of_its_own_book_that_is_not_utf8(bevelbook: Run, book: Path) -> None:
    copyfile(book, mate := book.with_name("mate.db"))
    assert bevelbook("--db", mate, "--by", "bo", "record", "build", "rear-a/1", "note=soft").code == 0
    spoiled(book, "UPDATE builds SET note = CAST(x'ff00fe41' AS TEXT)")
    said = bevelbook("--db", book, "merge", mate)
    assert (said.code, "builds.note: the row" in said.err, "UTF-8" in said.err) == (2, True, True), said.err
    assert "another program" not in said.err


def test_an_edition_names_the_record_with_a_value_that_cannot_be(bevelbook: Run, book: Path, tmp_path: Path) -> None:
    spoiled(book, "UPDATE builds SET built_on = '2026-02-31'")
    with closing(sqlite3.connect(book)) as connection:
        (row_id,) = connection.execute("SELECT id FROM builds").fetchone()
    said = bevelbook("--db", book, "edition", tmp_path / "ED", "--yes")
    assert (said.code, f"builds {row_id}" in said.err, "built_on" in said.err) == (2, True, True), said.err
    assert "check --deep" in said.err
    assert row_id in bevelbook("--db", book, "check", "--deep").out
    assert bevelbook("--db", book, "--by", "ana", "record", "build", row_id, "built_on=2026-05-02", "--yes").code == 0
    assert bevelbook("--db", book, "edition", tmp_path / "ED", "--yes").code == 0


@pytest.mark.parametrize("content", [b"", b"hello\n"])
@pytest.mark.parametrize("name", ["y.db", "notes.csv"])
def test_a_file_that_is_none_of_ours_is_answered_with_a_command_that_works(
    name: str, content: bytes, bevelbook: Run, tmp_path: Path
) -> None:
    (path := tmp_path / name).write_bytes(content)
    said = bevelbook("--db", path, "check")
    assert (said.code, "this is not a bevelbook database" in said.err) == (2, True)
    command = next(one for one in re.findall("'(bevelbook [^']+)'", said.err) if one.endswith(" new"))
    assert bevelbook(*shlex.split(command)[1:]).code == 0
    assert path.read_bytes() == content


def test_a_workbook_without_a_part_is_damaged_not_a_table_without_headings(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    zipfile.ZipFile(empty := io.BytesIO(), "w").close()
    for name in ("fake.ods", "fake.xlsx"):
        (tmp_path / name).write_bytes(empty.getvalue())
        said = bevelbook("--db", db, "import", tmp_path / name)
        words = said.out + said.err
        assert (said.code, "empty archive (zip)" in words, "header-line" in words) == (2, True, False), words
