"""What a row of notes writes of the seals: kept with its build in words, else beside the row. Invented data."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes.headings import column_called

Command = Callable[..., Any]


@pytest.fixture
def bring(bevelbook: Command, db: Path, tmp_path: Path) -> Callable[..., Any]:
    """Import rows with a column for the seals."""

    def run(*rows: str, options: tuple[str, ...] = ()) -> Any:
        path = tmp_path / "sheet.csv"
        path.write_text("\n".join(["date,diff,oil mass,total,O-Rings", *rows]) + "\n", encoding="utf-8")
        return bevelbook("--db", db, "import", path, "--json", *options)

    return run


def rows(db: Path, sql: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(sql).fetchall()


@pytest.mark.parametrize("heading", ["seals", "Seal", "rings", "O rings"])
def test_what_people_write_above_them(heading: str) -> None:
    assert column_called(heading) == "seals"


@pytest.mark.parametrize("words", ["new", "flattened", "new both sides", "greased; lid side nicked?", "2"])
def test_the_words_are_kept_with_the_build_and_no_place_is_guessed(bring: Command, db: Path, words: str) -> None:
    text = (f"2026-05-03,K-01,1.5,,{words}", "2026-05-05,K-01,1.4,,")
    done = bring(*text)
    assert (done.code, done.json["warnings"], bring(*text).json["added"]) == (0, ["seals_in_words:line 2"], 0)
    assert rows(db, "SELECT seals FROM builds ORDER BY built_on") == [(words,), (None,)]
    assert rows(db, "SELECT seals FROM imported_notes ORDER BY line") == [(words,), (None,)]
    assert rows(db, "SELECT count(*) FROM seal_fittings") == [(0,)]


def test_a_row_without_a_build_keeps_them_beside(bring: Command, db: Path) -> None:
    done = bring("2026-05-03,K-01,1.5,,new", "2026-05-10,K-01,,20.8,flattened")
    assert (done.json["rejected"], done.json["warnings"]) == (
        0,
        ["seals_in_words:line 2", "seals_beside:line 3"],
    )
    assert [json.loads(cells) for (cells,) in rows(db, "SELECT cells FROM note_extras")] == [{"seals": "flattened"}]


def test_words_that_change_later_reach_the_build(bring: Command, db: Path) -> None:
    bring("2026-05-03,K-01,1.5,,new")
    bring("2026-05-03,K-01,1.5,,used", options=("--take-changes",))
    assert rows(db, "SELECT seals FROM builds") == [("used",)]
