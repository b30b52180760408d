"""What is taken out of a name as it is typed is said, and a name has one line. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    begin(bevelbook, Path("bevelbook.db"), ("new",))
    return bevelbook


def names(db: Path, table: str = "diffs", column: str = "label") -> list[str]:
    with closing(sqlite3.connect(db)) as connection:
        return [row[0] for row in connection.execute(f"SELECT {column} FROM {table} ORDER BY id")]


def test_a_sign_that_nobody_sees_is_taken_out_and_said(team: Run, tmp_path: Path) -> None:
    """U+202E is RIGHT-TO-LEFT OVERRIDE (Unicode Character Database, UnicodeData.txt)."""
    done = team("record", "diff", "label=RTL\u202ex")
    assert done.code == 0
    assert names(tmp_path / "bevelbook.db") == ["RTLx"]
    said = " ".join(done.out.split())
    assert "The name is kept as RTLx: 1 sign that nobody sees was taken out (U+202E)." in said


@pytest.mark.parametrize("line_break", ["\n", "\r\n", "\u2028", " \n "])
def test_a_line_break_in_a_name_becomes_a_blank_and_is_said(team: Run, tmp_path: Path, line_break: str) -> None:
    done = team("record", "diff", f"label=new{line_break}line")
    assert done.code == 0
    assert names(tmp_path / "bevelbook.db") == ["new line"]
    assert "The name is kept as new line: a line break in it became a blank." in " ".join(done.out.split())
    renamed = team("record", "diff", "new line", f"label=rear{line_break}a")
    assert "The name is kept as rear a" in " ".join(renamed.out.split())
    assert names(tmp_path / "bevelbook.db") == ["rear a"]


def test_every_kind_with_a_name_has_it_on_one_line(team: Run, tmp_path: Path) -> None:
    for kind, key, table in (("scale", "name", "scales"), ("venue", "name", "venues"), ("person", "name", "people")):
        more = ("step_g=0.01",) if kind == "scale" else ()
        assert team("record", kind, f"{key}=one\ntwo", *more).code == 0, kind
        assert "one two" in names(tmp_path / "bevelbook.db", table, key), kind


def test_a_name_as_it_was_typed_says_nothing(team: Run) -> None:
    assert "is kept as" not in team("record", "diff", "label=rear  a").out
    assert "is kept as" not in team("record", "diff", 'label=" rear-b "').out
