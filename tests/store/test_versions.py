"""Versions that an import makes: the same sheet gives the same ones in any database."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import UUID

from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.versions import after, note_version

Run = Callable[..., Any]
BUILD, WEIGHING = BY_NAME["build"], BY_NAME["weighing"]


def test_a_version_is_named_by_what_it_follows_and_what_it_is() -> None:
    first = note_version(BUILD, after("a"), {"diff": "d", "dry_mass_g": 9.5})
    assert UUID(first).version == 8
    assert first == note_version(BUILD, after("a"), {"dry_mass_g": 9.5, "diff": "d"})
    others = {
        note_version(BUILD, after("b"), {"diff": "d", "dry_mass_g": 9.5}),
        note_version(BUILD, after("a"), {"diff": "d", "dry_mass_g": 9.500000000000002}),
        note_version(BUILD, after("a"), {"diff": "d", "oil_mass_g": 9.5}),
        note_version(WEIGHING, after("a"), {"mass_g": 9.5}),
    }
    assert len(others | {first}) == 5


def test_empty_values_and_bookkeeping_are_no_content() -> None:
    lean = note_version(BUILD, after("a"), {"diff": "d"})
    assert lean == note_version(BUILD, after("a"), {"diff": "d", "note": None, "note_line": 7, "updated_by": "bo"})


def test_what_follows_from_other_rows_is_no_content() -> None:
    """A label that is counted, and which build a weighing belongs to."""
    assert note_version(BUILD, after("a"), {"diff": "d", "label": "rear-a/1"}) == note_version(
        BUILD, after("a"), {"diff": "d", "label": "rear-a/2"}
    )
    one, other = ({"mass_g": 18.3, "build": build} for build in ("b", "c"))
    assert note_version(WEIGHING, after("a"), one) == note_version(WEIGHING, after("a"), other)


def test_the_order_of_parents_does_not_matter() -> None:
    assert after("b", "a") == after("a", "b") == '["a","b"]'


def test_a_record_that_was_removed_and_is_imported_again_is_a_version_after_its_removal(
    bevelbook: Run, tmp_path: Path
) -> None:
    """In each of two databases the same one, where the removal is the same version."""
    (tmp_path / "notes.csv").write_text("date,diff,dry_mass_g\n2026-05-03,rear-a,9.5\n", encoding="utf-8")
    versions = []
    for name in ("one.db", "other.db"):
        path = tmp_path / name
        bevelbook("--db", path, "new")
        assert bevelbook("--db", path, "import", "notes.csv").code == 0
        with closing(open_for_writing(path)) as connection, transaction(connection, path, asked="a removal") as entry:
            (row_id, first) = connection.execute("SELECT id, version FROM builds").fetchone()
            connection.execute("DELETE FROM builds")
        assert first == row_id
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("UPDATE history SET version = 'gone' WHERE version = ?", (entry.id,))
        assert bevelbook("--db", path, "import", "notes.csv").code == 0
        with closing(sqlite3.connect(path)) as connection:
            (again, version, parents) = connection.execute("SELECT id, version, parents FROM builds").fetchone()
            past = connection.execute(
                "SELECT version, content IS NULL FROM history WHERE table_name = 'builds' ORDER BY id"
            ).fetchall()
        assert again == row_id
        assert json.loads(parents) == ["gone"]
        assert past == [(row_id, 0), ("gone", 1)]
        assert version not in (row_id, "gone")
        assert UUID(version).version == 8
        versions.append(version)
    assert versions[0] == versions[1]
